#include "burstsieve/group/bursts.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <random>

#include "burstsieve/group/pairs.h"

using namespace burstsieve;

namespace {

struct Shot {
  const char* name;
  double seconds;
  const char* serial = "1";
  std::optional<std::uint32_t> sequence = std::nullopt;
  std::optional<std::uint64_t> shutter = std::nullopt;
};

Frame frame(const Shot& s, bool subsecond = true) {
  Frame f;
  FileRef file;
  file.path = s.name;
  f.jpeg = file;
  f.capture.make = "Saltmarsh Optics";
  f.capture.model = "SO-1";
  f.capture.serial = s.serial;
  f.capture.time_ms = static_cast<std::int64_t>(
      1'790'000'000'000 + (subsecond ? s.seconds * 1000 : std::floor(s.seconds) * 1000));
  f.capture.subsecond_known = subsecond;
  f.capture.sequence_number = s.sequence;
  f.capture.shutter_count = s.shutter;
  return f;
}

std::vector<Frame> frames(const std::vector<Shot>& shots, bool subsecond = true) {
  std::vector<Frame> out;
  for (const Shot& s : shots) out.push_back(frame(s, subsecond));
  return out;
}

// "a b|c": file names in order, bursts apart. The input order is shuffled: it must not matter.
std::string shape(std::vector<Frame> taken) {
  std::string first;
  for (unsigned seed = 0; seed < 5; ++seed) {
    auto copy = taken;
    std::mt19937 rng(seed);
    std::shuffle(copy.begin(), copy.end(), rng);
    std::string out;
    for (const Burst& b : group::form_bursts(std::move(copy), {})) {
      if (!out.empty()) out += "|";
      for (std::size_t i = 0; i < b.frames.size(); ++i) out += (i ? " " : "") + b.frames[i].main().path;
    }
    if (seed == 0) first = out;
    CHECK(out == first);
  }
  return first;
}

}  // namespace

TEST_SUITE("group/bursts") {
  TEST_CASE("a pause of more than a second ends a burst") {
    CHECK(shape(frames({{"a", 0}, {"b", .05}, {"c", .1}, {"d", 1.2}, {"e", 1.25}})) == "a b c|d e");
    CHECK(shape(frames({{"a", 0}, {"b", .05}, {"c", 1.0}})) == "a b c");
  }
  TEST_CASE("a slow series holds together up to three of its own intervals") {
    CHECK(shape(frames({{"a", 0}, {"b", .9}, {"c", 1.8}, {"d", 4.4}, {"e", 8}})) == "a b c d|e");
  }
  TEST_CASE("the sequence counter decides against the clock") {
    // The buffer was full between b and c, yet the finger stayed down.
    CHECK(shape(frames({{"a", 0, "1", 1}, {"b", .1, "1", 2}, {"c", 4, "1", 3}})) == "a b c");
    // Two presses of the shutter half a second apart.
    CHECK(shape(frames({{"a", 0, "1", 1}, {"b", .1, "1", 2}, {"c", .6, "1", 1}, {"d", .7, "1", 2}})) ==
          "a b|c d");
    // A counter that never counts is no counter.
    CHECK(shape(frames({{"a", 0, "1", 1}, {"b", .1, "1", 1}, {"c", .2, "1", 1}})) == "a b c");
    // But not across minutes.
    CHECK(shape(frames({{"a", 0, "1", 1}, {"b", .1, "1", 2}, {"c", 60, "1", 3}})) == "a b|c");
  }
  // DCF (JEITA CP-3461): numbers 0001 to 9999, then 0001 again.
  TEST_CASE("the file counter rolls over inside a burst") {
    CHECK(shape(frames({{"BSG_9998", 0}, {"BSG_9999", .05}, {"BSG_0001", .1}, {"BSG_0002", .15}})) ==
          "BSG_9998 BSG_9999 BSG_0001 BSG_0002");
    CHECK(group::dcf_steps(9999, 1) == 1);
    CHECK(group::dcf_steps(1, 9999) == -1);
    CHECK(group::dcf_steps(17, 20) == 3);
  }
  TEST_CASE("without sub-seconds the file numbers order the frames, across the roll-over too") {
    CHECK(shape(frames({{"X_0003", 0.5}, {"X_0001", .1}, {"X_0002", .3}, {"X_0004", 1.1}}, false)) ==
          "X_0001 X_0002 X_0003 X_0004");
    CHECK(shape(frames({{"X_9998", .1}, {"X_9999", .2}, {"X_0001", .3}}, false)) == "X_9998 X_9999 X_0001");
  }
  TEST_CASE("the shutter count orders frames of one instant before their names do") {
    CHECK(shape(frames({{"z", 0, "1", {}, 100}, {"a", 0, "1", {}, 101}, {"m", 0, "1", {}, 102}})) == "z a m");
  }
  TEST_CASE("two cameras interleaved in time are two bursts") {
    CHECK(shape(frames({{"a1", 0, "1"}, {"b1", .02, "2"}, {"a2", .1, "1"}, {"b2", .12, "2"}})) ==
          "a1 a2|b1 b2");
  }
  TEST_CASE("two bodies of one model without a serial are told apart by their numbers") {
    CHECK(shape(frames({{"A_0101", 0, ""}, {"B_4001", .02, ""}, {"A_0102", .1, ""}, {"B_4002", .12, ""}})) ==
          "A_0101 A_0102|B_4001 B_4002");
  }
  TEST_CASE("a clock set back lays two bursts over each other: their numbers part them") {
    CHECK(shape(frames({{"X_1000", 0}, {"X_1001", .1}, {"X_1002", .2}, {"X_3000", .05}, {"X_3001", .15}})) ==
          "X_1000 X_1001 X_1002|X_3000 X_3001");
  }
  TEST_CASE("a frame without a time stands alone and is not lost") {
    auto taken = frames({{"a", 0}, {"b", .1}});
    taken.push_back(frame({"c", 0}));
    taken.back().capture.time_ms.reset();
    CHECK(shape(taken) == "c|a b");
  }
  TEST_CASE("every frame comes out exactly once, whatever the metadata say") {
    std::mt19937 rng(5);
    for (int round = 0; round < 40; ++round) {
      std::vector<Frame> taken;
      const std::size_t n = 1 + rng() % 60;
      for (std::size_t i = 0; i < n; ++i) {
        Frame f = frame({"x", 0});
        f.jpeg->path = "F_" + std::to_string(rng() % 10'000) + "_" + std::to_string(i) + ".jpg";
        f.capture.time_ms =
            rng() % 5 ? std::optional<std::int64_t>(static_cast<std::int64_t>(rng() % 20'000)) : std::nullopt;
        if (rng() % 3 == 0) f.capture.sequence_number = static_cast<std::uint32_t>(rng() % 4);
        if (rng() % 3 == 0) f.capture.shutter_count = rng() % 100;
        f.capture.serial = rng() % 2 ? "1" : "";
        taken.push_back(f);
      }
      std::vector<std::string> in, out;
      for (const Frame& f : taken) in.push_back(f.main().path);
      for (const Burst& b : group::form_bursts(taken, {})) {
        CHECK_FALSE(b.frames.empty());
        for (const Frame& f : b.frames) out.push_back(f.main().path);
      }
      std::sort(in.begin(), in.end());
      std::sort(out.begin(), out.end());
      CHECK(in == out);
    }
  }
  TEST_CASE("numbers in names") {
    CHECK(group::number_in_name("DCIM/100SALT/BSG_0042.JPG") == 42u);
    CHECK(group::number_in_name("0042-bright.jpg") == 42u);
    CHECK_FALSE(group::number_in_name("heron.jpg"));
    CHECK_FALSE(group::number_in_name("20261125101112.jpg"));  // a date, not a counter
    CHECK_FALSE(group::number_in_name(""));
  }
  TEST_CASE("camera names don't stutter") {
    Capture c;
    CHECK(group::camera_name(c) == "unknown camera");
    c.make = "Canon", c.model = "Canon EOS R5", c.serial = "7";
    CHECK(group::camera_name(c) == "Canon EOS R5 #7");
    c.make = "NIKON CORPORATION", c.model = "NIKON Z 9";
    CHECK(group::camera_name(c) == "NIKON Z 9 #7");
    c.make = "SONY", c.model = "ILCE-1";
    CHECK(group::camera_name(c) == "SONY ILCE-1 #7");
  }
  TEST_CASE("options out of range are refused") {
    CHECK(group::BurstOptions{}.check());
    CHECK_FALSE(group::BurstOptions{0, 3, 10}.check());
    CHECK_FALSE(group::BurstOptions{1, .5, 10}.check());
    CHECK_FALSE(group::BurstOptions{5, 3, 1}.check());
  }
}

TEST_SUITE("group/pairs") {
  group::TakenFile taken(const char* path, FileKind kind, double seconds, bool subsecond = true,
                         std::uint64_t fingerprint = 0) {
    group::TakenFile t;
    t.capture = frame({path, seconds}, subsecond).capture;
    t.file.path = path;
    t.file.kind = kind;
    static std::uint64_t next = 1000;
    t.file.fingerprint = fingerprint ? fingerprint : ++next;
    return t;
  }

  TEST_CASE("raw and JPEG of one release are one frame, in either case of the suffix") {
    const auto out =
        group::pair_files({taken("d/A_1.NEF", FileKind::raw, 1), taken("d/a_1.jpg", FileKind::jpeg, 1),
                           taken("d/A_2.JPG", FileKind::jpeg, 1.1)});
    REQUIRE(out.size() == 2);
    CHECK(out[0].raw->path == "d/A_1.NEF");
    CHECK(out[0].jpeg->path == "d/a_1.jpg");
    CHECK_FALSE(out[1].raw);
  }
  TEST_CASE("the same name at another time is another frame") {
    CHECK(group::pair_files({taken("d/A_1.NEF", FileKind::raw, 1), taken("d/A_1.JPG", FileKind::jpeg, 50)})
              .size() == 2);
    CHECK(group::pair_files({taken("d/A_1.NEF", FileKind::raw, 1), taken("d/A_1.JPG", FileKind::jpeg, 1.05)})
              .size() == 2);
  }
  TEST_CASE("pairs across folders need the sub-second; the same folder goes first") {
    CHECK(group::pair_files({taken("raw/A_1.NEF", FileKind::raw, 1), taken("jpg/A_1.JPG", FileKind::jpeg, 1)})
              .size() == 1);
    CHECK(group::pair_files(
              {taken("raw/A_1.NEF", FileKind::raw, 1, false), taken("jpg/A_1.JPG", FileKind::jpeg, 1, false)})
              .size() == 2);
    CHECK(group::pair_files(
              {taken("raw/A_1.NEF", FileKind::raw, 1, false), taken("raw/A_1.JPG", FileKind::jpeg, 1, false)})
              .size() == 1);
    const auto both =
        group::pair_files({taken("a/A_1.JPG", FileKind::jpeg, 1), taken("b/A_1.NEF", FileKind::raw, 1),
                           taken("b/A_1.JPG", FileKind::jpeg, 1)});
    REQUIRE(both.size() == 2);
    CHECK(both[1].jpeg->path == "b/A_1.JPG");
  }
  TEST_CASE("copies of one file ride along; different pictures of one instant do not") {
    const auto out = group::pair_files({taken("a/A_1.JPG", FileKind::jpeg, 1, true, 77),
                                        taken("backup/A_1.JPG", FileKind::jpeg, 1, true, 77),
                                        taken("a/A_1-bright.JPG", FileKind::jpeg, 1)});
    REQUIRE(out.size() == 2);
    CHECK(out[1].copies.size() == 1);
    CHECK(out[1].copies[0].path == "backup/A_1.JPG");
    CHECK(out[0].copies.empty());
  }
  TEST_CASE("each file of a pair keeps its own orientation") {
    auto raw = taken("d/A_1.NEF", FileKind::raw, 1);
    raw.capture.orientation = 6;
    const auto out = group::pair_files({raw, taken("d/A_1.JPG", FileKind::jpeg, 1)});
    REQUIRE(out.size() == 1);
    CHECK(out[0].capture.orientation == 6);
    CHECK(out[0].jpeg_orientation == 1);
  }
  TEST_CASE("a frame takes the time and AF area from its JPEG when the raw lost them") {
    auto raw = taken("d/A_1.NEF", FileKind::raw, 1);
    raw.capture.time_ms.reset();
    auto jpeg = taken("d/A_1.JPG", FileKind::jpeg, 1);
    jpeg.capture.af = AfArea{{.4, .4, .1, .1}, .9, "test"};
    const auto out = group::pair_files({raw, jpeg});
    REQUIRE(out.size() == 1);
    CHECK(out[0].capture.time_ms == jpeg.capture.time_ms);
    CHECK(out[0].capture.af);
  }
}
