// Every maker, on tags no camera would write: no crash, no throw, and an AF area inside the frame or none.
#include <doctest/doctest.h>

#include <algorithm>
#include <limits>
#include <set>
#include <string>

#include "burstsieve/camera/exif_af.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera {
namespace {

// Answers every key the same way, so that a tag added to a maker later is covered too.
class SameForAll final : public TagView {
 public:
  std::optional<std::vector<std::int64_t>> ints_value;
  std::optional<std::vector<double>> numbers_value;
  std::optional<std::string> text_value;
  std::optional<std::vector<std::uint8_t>> bytes_value;

  std::optional<std::vector<std::int64_t>> ints(std::string_view) const override { return ints_value; }
  std::optional<std::vector<double>> numbers(std::string_view) const override { return numbers_value; }
  std::optional<std::string> text(std::string_view) const override { return text_value; }
  std::optional<std::vector<std::uint8_t>> bytes(std::string_view) const override { return bytes_value; }
};

// Answers each key with its own pseudo-random values; the same for the same seed.
class Scrambled final : public TagView {
 public:
  explicit Scrambled(std::uint64_t seed) : seed_(seed) {}
  std::optional<std::vector<std::int64_t>> ints(std::string_view key) const override {
    std::uint64_t s = start(key);
    if (next(s) % 8 == 0) return std::nullopt;
    std::vector<std::int64_t> out(next(s) % 70);
    for (auto& v : out) {
      const std::uint64_t r = next(s);
      switch (r % 5) {
        case 0:
          v = static_cast<std::int64_t>(next(s));  // anything
          break;
        case 1:
          v = static_cast<std::int64_t>(next(s) % 70000) - 3000;
          break;
        case 2:
          v = static_cast<std::int64_t>(next(s) % 256);
          break;
        default:
          v = static_cast<std::int64_t>(next(s) % 12);
      }
    }
    return out;
  }
  std::optional<std::vector<double>> numbers(std::string_view key) const override {
    const auto v = ints(key);
    if (!v) return std::nullopt;
    std::vector<double> out;
    for (const auto i : *v) out.push_back(static_cast<double>(i) / 7);
    return out;
  }
  std::optional<std::string> text(std::string_view key) const override {
    const auto v = ints(key);
    if (!v) return std::nullopt;
    std::string out;
    for (const auto i : *v) out += std::to_string(i) + (i % 2 == 0 ? "/" : " ");
    return out;
  }
  std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const override {
    const auto v = ints(key);
    if (!v) return std::nullopt;
    std::vector<std::uint8_t> out;
    for (const auto i : *v) out.push_back(static_cast<std::uint8_t>(i & 0xff));
    return out;
  }

 private:
  std::uint64_t start(std::string_view key) const {
    std::uint64_t s = seed_ * 0x9e3779b97f4a7c15u;
    for (const char c : key) s = (s ^ static_cast<unsigned char>(c)) * 0x100000001b3u;
    return s | 1;
  }
  static std::uint64_t next(std::uint64_t& s) {  // xorshift64
    s ^= s << 13;
    s ^= s >> 7;
    s ^= s << 17;
    return s;
  }
  std::uint64_t seed_;
};

bool well_formed(const Capture& c) {
  if (c.distance) {
    const SubjectDistance& d = *c.distance;
    if (!(d.metres >= .005 && d.metres <= 10'000) || d.source.empty()) return false;
    if (!(d.nearest.value_or(d.metres) > 0 && d.nearest.value_or(d.metres) <= d.metres)) return false;
    if (!(d.farthest.value_or(d.metres) >= d.metres && d.farthest.value_or(d.metres) < 11'000)) return false;
  }
  if (!c.af) return true;
  const Region& r = c.af->box;
  // Written so that NaN fails. 1e-12: the last bit of x + w.
  return r.x >= 0 && r.y >= 0 && r.w > 0 && r.h > 0 && r.right() <= 1 + 1e-12 && r.bottom() <= 1 + 1e-12 &&
         c.af->confidence > 0 && c.af->confidence <= 1 && !c.af->source.empty();
}

Capture turned_frame(int orientation, int width = 6000, int height = 4000) {
  Capture c;
  c.model = "EOS 20D ILCE-7M3 K-3";
  c.orientation = orientation;
  c.width = width;
  c.height = height;
  return c;
}

void read_all(const TagView& tags, const Capture& from) {
  for (const Maker* m : makers()) {
    Capture c = from;
    m->read(tags, c);
    CAPTURE(m->id);
    CHECK(well_formed(c));
    for (const std::string& note : c.notes) CHECK(note.find('\n') == std::string::npos);
    if (c.file_number) CHECK(*c.file_number >= 1);
    if (c.file_number) CHECK(*c.file_number <= 9999);
  }
  Capture c = from;
  read_exif_af(tags, c);
  CHECK(well_formed(c));
}

TEST_CASE("the registry has every maker once and they do not claim each other's files") {
  std::set<std::string> ids;
  for (const Maker* m : makers()) ids.insert(std::string(m->id));
  CHECK(ids.size() == makers().size());
  CHECK(std::is_sorted(makers().begin(), makers().end(),
                       [](const Maker* a, const Maker* b) { return a->id < b->id; }));
  for (const char* id : {"canon", "fujifilm", "nikon", "olympus", "panasonic", "pentax", "sony"}) {
    CAPTURE(id);
    CHECK(ids.count(id) == 1);
    int claims = 0;
    for (const Maker* m : makers()) claims += m->matches(id) ? 1 : 0;
    CHECK(claims == 1);
  }
  // As the cameras write it, in lower case.
  for (const char* make :
       {"nikon corporation", "om digital solutions", "olympus corporation", "ricoh imaging company, ltd."})
    CHECK(std::count_if(makers().begin(), makers().end(), [&](const Maker* m) { return m->matches(make); }) ==
          1);
  for (const Maker* m : makers()) CHECK_FALSE(m->matches(""));
}

TEST_CASE("no tags: nothing is claimed") {
  const SameForAll none;
  for (const Maker* m : makers()) {
    Capture c = turned_frame(1);
    m->read(none, c);
    CAPTURE(m->id);
    CHECK(c == turned_frame(1));
  }
}

TEST_CASE("empty values, zeros, extremes and wrong counts are survived") {
  constexpr std::int64_t kMax = std::numeric_limits<std::int64_t>::max();
  constexpr std::int64_t kMin = std::numeric_limits<std::int64_t>::min();
  for (const std::size_t count : {0u, 1u, 2u, 3u, 4u, 5u, 7u, 64u, 400u, 2000u})
    for (const std::int64_t value : {std::int64_t{0}, std::int64_t{1}, std::int64_t{-1}, std::int64_t{65535},
                                     std::int64_t{4294967295}, kMax, kMin}) {
      SameForAll tags;
      tags.ints_value.emplace(count, value);
      tags.numbers_value.emplace(count, static_cast<double>(value));
      tags.text_value = std::string(count, '/');
      tags.bytes_value.emplace(count, static_cast<std::uint8_t>(value & 0xff));
      for (const int orientation : {1, 6, 8}) {
        read_all(tags, turned_frame(orientation));
        read_all(tags, turned_frame(orientation, 0, 0));
      }
    }
}

TEST_CASE("numbers that are no numbers are survived") {
  for (const double value :
       {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(), 1e308}) {
    SameForAll tags;
    for (const std::size_t count : {1u, 2u, 4u}) {
      tags.numbers_value.emplace(count, value);
      read_all(tags, turned_frame(1));
    }
  }
}

TEST_CASE("only one kind of value present") {
  SameForAll text_only;
  for (const char* text :
       {"", " ", "0/0", "1/2 1/2", "1/2 1/2 1/2 1/2 1/2", "-9223372036854775808/-1 1/1 1/1 1/1 1/1",
        "99999999999999999999/1", "a/b", "1/"}) {
    text_only.text_value = text;
    read_all(text_only, turned_frame(3));
  }
  SameForAll bytes_only;
  bytes_only.bytes_value.emplace(4u, std::uint8_t{255});
  read_all(bytes_only, turned_frame(1));
}

TEST_CASE("scrambled tags never give an area outside the frame") {
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    const Scrambled tags(seed);
    read_all(tags, turned_frame(static_cast<int>(seed % 9)));
    read_all(tags, turned_frame(1, 1, 1));
  }
}

}  // namespace
}  // namespace burstsieve::camera
