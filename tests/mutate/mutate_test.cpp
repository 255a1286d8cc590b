#include "mutate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <set>

#include "burstsieve/decode/pixels.h"
#include "decode/dng_maker.h"
#include "decode/jpeg_maker.h"

namespace burstsieve::mutate {
namespace {

const std::string kSamples = BURSTSIEVE_SOURCE_DIR "/sample-bursts/DCIM/";

ByteBuffer sample(const std::string& name) {
  ByteBuffer bytes = decode_test::slurp(kSamples + name);
  REQUIRE(!bytes.empty());
  return bytes;
}

std::uint64_t covered(const PictureMap& map) {
  std::uint64_t sum = 0;
  for (const Range& r : map.picture) sum += r.end - r.begin;
  return sum;
}

}  // namespace

TEST_CASE("the map of a JPEG holds its data and tables, not its notes") {
  const ByteBuffer plain = decode_test::make_jpeg(decode_test::scene(64, 48), {});
  CHECK(map_of(plain).exact);
  // Without notes every byte counts.
  CHECK((map_of(plain).picture == std::vector<Range>{{0, plain.size()}}));

  // A comment of 100 bytes behind the start (ITU-T T.81, B.2.4.5), and a tail behind the end.
  ByteBuffer noted{0xff, 0xd8, 0xff, 0xfe, 0, 102};
  noted.resize(noted.size() + 100, 'x');
  noted.insert(noted.end(), plain.begin() + 2, plain.end());
  noted.resize(noted.size() + 50, 'y');
  const PictureMap map = map_of(noted);
  CHECK((map.picture == std::vector<Range>{{0, 6}, {106, 104 + plain.size()}}));
}

TEST_CASE("the map of a progressive JPEG reaches its last scan") {
  const ByteBuffer b = decode_test::make_jpeg(decode_test::scene(64, 48), {.progressive = true});
  CHECK((map_of(b).picture == std::vector<Range>{{0, b.size()}}));
}

TEST_CASE("the map of a DNG holds directories, preview and photosites") {
  decode_test::DngKind kind;
  kind.preview = decode_test::make_jpeg(decode_test::scene(48, 32), {});
  kind.preview_size = {48, 32};
  const cv::Mat mosaic = decode_test::noise_mosaic(48, 32);
  for (const bool big : {false, true}) {
    kind.big_endian = big;
    const ByteBuffer b = decode_test::make_dng(mosaic, kind);
    const PictureMap map = map_of(b);
    CHECK(map.exact);
    // The maker writes nothing but picture, structure and padding to even places.
    CHECK(covered(map) <= b.size());
    CHECK(covered(map) + 40 >= b.size());
    CHECK(map.numbers.size() > 60);
  }
}

TEST_CASE("another container is picture throughout") {
  const ByteBuffer b(3000, 'x');
  const PictureMap map = map_of(b);
  CHECK(!map.exact);
  CHECK((map.picture == std::vector<Range>{{0, 3000}}));
  CHECK(map_of({}).picture.empty());
}

TEST_CASE("the same seed gives the same damage, another seed other damage") {
  const ByteBuffer b = sample("101SALTM/BSG_0013.JPG");
  const PictureMap map = map_of(b);
  std::set<std::string> seen;
  std::array<int, kKinds> kinds{};
  for (std::uint64_t seed = 0; seed < 400; ++seed) {
    const Mutation m = plan(b, map, b.size(), seed);
    CHECK((m == plan(b, map, b.size(), seed)));
    CHECK((apply(m, b, b) == apply(m, b, b)));
    seen.insert(describe(m));
    for (const Step& s : m.steps) ++kinds[static_cast<std::size_t>(s.kind)];
  }
  CHECK(seen.size() > 380);  // two may cut the same place
  // 400 plans have about 560 steps: 62 of each kind.
  for (const int count : kinds) {
    CHECK(count > 30);
    CHECK(count < 120);
  }
}

TEST_CASE("each step does what its words say") {
  const ByteBuffer b{0, 1, 2, 3, 4, 5, 6, 7, 8, 9};
  const ByteBuffer donor{10, 11, 12};
  const auto one = [&](Step s) { return apply({{s}}, b, donor); };
  CHECK((one({.kind = Kind::truncate, .at = 3}) == ByteBuffer{0, 1, 2}));
  CHECK((one({.kind = Kind::zero_run, .at = 8, .count = 100}) == ByteBuffer{0, 1, 2, 3, 4, 5, 6, 7, 0, 0}));
  CHECK((one({.kind = Kind::swap_blocks, .at = 6, .count = 3, .other = 1}) ==
         ByteBuffer{0, 6, 7, 8, 4, 5, 1, 2, 3, 9}));
  CHECK((one({.kind = Kind::swap_blocks, .at = 4, .count = 3, .other = 5}) ==
         ByteBuffer{0, 1, 2, 3, 5, 4, 6, 7, 8, 9}));  // overlapping: as much as fits
  CHECK((one({.kind = Kind::extreme_number, .at = 2, .value = 0x0a0b, .width = 2, .order = ByteOrder::big}) ==
         ByteBuffer{0, 1, 10, 11, 4, 5, 6, 7, 8, 9}));
  CHECK((one({.kind = Kind::remove, .at = 1, .count = 8}) == ByteBuffer{0, 9}));
  CHECK((one({.kind = Kind::splice, .at = 2, .other = 1}) == ByteBuffer{0, 1, 11, 12}));
  CHECK(one({.kind = Kind::insert, .at = 5, .count = 7}).size() == 17);
  const ByteBuffer flipped = one({.kind = Kind::flip_bits, .at = 4, .count = 1, .other = 2, .seed = 5});
  int bits = 0;
  for (std::size_t i = 0; i < b.size(); ++i) {
    const int differ = __builtin_popcount(static_cast<unsigned>(b[i] ^ flipped[i]));
    if (differ > 0) CHECK((i == 4 || i == 5));
    bits += differ;
  }
  CHECK(bits == 1);
  // A place beyond what an earlier step left is drawn in.
  CHECK((apply({{{.kind = Kind::truncate, .at = 2}, {.kind = Kind::zero_run, .at = 9, .count = 9}}}, b,
               donor) == ByteBuffer{0, 0}));
  CHECK(apply({{{.kind = Kind::zero_run}}}, {}, {}).empty());
  CHECK(plan({}, map_of({}), 5, 1).steps.empty());
}

namespace {

bool same(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && (a.empty() || cv::norm(a, b, cv::NORM_INF) == 0);
}

struct Tally {
  int untouched = 0, touched = 0;
  int untouched_differ = 0;   // wrong: the map missed something
  int touched_unnoticed = 0;  // other pixels and no word of damage: valid bit streams, or changed photosites
};

// Decodes `count` damaged copies and holds the truth against the pixels.
Tally against_pixels(const std::string& name, FileKind kind, std::uint64_t count) {
  const decode_test::TempFolder folder;
  const Limits limits;
  const ByteBuffer b = sample(name);
  const PictureMap map = map_of(b);
  const auto whole = decode::decode_planes(folder.write("whole", b, kind), 1, limits);
  REQUIRE(whole);
  Tally out;
  for (std::uint64_t seed = 0; seed < count; ++seed) {
    const ByteBuffer broken = apply(plan(b, map, b.size(), seed), b, b);
    const auto planes = decode::decode_planes(folder.write("broken", broken, kind), 1, limits);
    const bool alike = planes && planes->damage.empty() && same(planes->luma, whole->luma) &&
                       same(planes->cb, whole->cb) && same(planes->cr, whole->cr);
    if (touches_picture(map, b, broken)) {
      ++out.touched;
      out.touched_unnoticed += planes && planes->damage.empty() && !alike;
    } else {
      ++out.untouched;
      out.untouched_differ += !alike;
    }
  }
  return out;
}

}  // namespace

TEST_CASE("a JPEG whose picture is untouched decodes as before") {
  const Tally t = against_pixels("101SALTM/BSG_0013.JPG", FileKind::jpeg, 300);
  CHECK(t.untouched_differ == 0);
  CHECK(t.untouched > 10);
  CHECK(t.touched > 150);
  // A flipped bit can leave a valid stream; most damage can't.
  CHECK(t.touched_unnoticed < t.touched / 2);
}

TEST_CASE("a DNG whose picture is untouched decodes as before") {
  const Tally t = against_pixels("100HARBR/MRS_0216.DNG", FileKind::raw, 150);
  CHECK(t.untouched_differ == 0);
  CHECK(t.untouched > 2);
  CHECK(t.touched > 75);
}

TEST_CASE("the program writes what it says, the same twice, and only into an empty folder") {
  const decode_test::TempFolder folder;
  const auto run = [&](const std::string& out, const std::string& more) {
    return std::system((std::string(BURSTSIEVE_MUTATE) + " " + folder.at(out) + " --count 12 --seed 7 " +
                        kSamples + "101SALTM/BSG_0013.JPG " + kSamples + "101SALTM/BSG_0014.JPG" + more +
                        " >/dev/null 2>&1")
                           .c_str());
  };
  REQUIRE(run("one", "") == 0);
  REQUIRE(run("two", "") == 0);
  const ByteBuffer truth = decode_test::slurp(folder.at("one/truth.tsv"));
  CHECK((truth == decode_test::slurp(folder.at("two/truth.tsv"))));
  CHECK(std::count(truth.begin(), truth.end(), '\n') == 13);
  for (int i = 0; i < 12; ++i) {
    const std::string name = std::string("/000/0000") + (i < 10 ? "0" : "") + std::to_string(i) + ".JPG";
    const ByteBuffer one = decode_test::slurp(folder.at("one" + name));
    CHECK((one == decode_test::slurp(folder.at("two" + name))));
  }
  CHECK(run("one", "") != 0);
  CHECK((truth == decode_test::slurp(folder.at("one/truth.tsv"))));
  CHECK(run("three", " /nowhere/gull.jpg") != 0);
}

}  // namespace burstsieve::mutate
