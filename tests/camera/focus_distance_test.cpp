// Focus distances of known files. Tag values are those exiv2 0.27.6 prints for the named files of its test
// data; the metres are exiftool 12.57's.
#include "burstsieve/camera/focus_distance.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "burstsieve/camera/maker.h"
#include "fake_tags.h"

using namespace burstsieve;
using namespace burstsieve::camera;

namespace {

std::optional<SubjectDistance> read(std::string_view id, const FakeTags& tags) {
  Capture c;
  for (const Maker* m : makers())
    if (m->id == id) m->read(tags, c);
  return c.distance;
}

bool is(const std::optional<SubjectDistance>& d, double metres) {
  return d && std::abs(d->metres / metres - 1) < 1e-4;
}

FakeTags canon(std::int64_t upper, std::int64_t lower) {
  FakeTags t;
  t.set("CanonFi.FocusDistanceUpper", {upper}).set("CanonFi.FocusDistanceLower", {lower});
  return t;
}

}  // namespace

TEST_SUITE("camera/focus_distance") {
  TEST_CASE(
      "Canon EOS: a step of the scale, its middle even in 1/distance") {  // Sigma_60-600mm ... for_EOS.exv
    const auto d = read("canon", canon(2333, 1824));
    REQUIRE(d);
    CHECK(is(d, 2 / (1 / 23.33 + 1 / 18.24)));
    CHECK(*d->nearest == doctest::Approx(18.24));
    CHECK(*d->farthest == doctest::Approx(23.33));
    CHECK(is(read("canon", canon(1824, 2333)), d->metres));  // some bodies name the ends the other way round
  }
  TEST_CASE("Canon: infinity and zero are unknown") {
    CHECK_FALSE(read("canon", canon(-1, 8191)));  // exiv2-bug1024.exv
    CHECK_FALSE(read("canon", canon(65535, 500)));
    CHECK_FALSE(read("canon", canon(8191, 65535)));
    CHECK_FALSE(read("canon", canon(0, 0)));
    FakeTags far = canon(-1, 376);  // the older tag does not make it up
    far.set("CanonSi.SubjectDistance", {107});
    CHECK_FALSE(read("canon", far));
  }
  TEST_CASE("Canon compacts and early EOS: one number") {  // IMG_0246.exv: 1.07 m
    FakeTags t;
    t.set("CanonSi.SubjectDistance", {107}).set("CanonSi.0x0014", {0});
    const auto d = read("canon", t);
    CHECK(is(d, 1.07));
    CHECK_FALSE(d->nearest);
    t.set("CanonSi.SubjectDistance", {65535});  // exiv2-canon-eos-300d.jpg
    CHECK_FALSE(read("canon", t));
  }
  TEST_CASE("Nikon: 141 is 33.4965 m, in steps of 6 %") {  // Sigma_120-300_DG_OS_HSM_Sport_lens.exv
    FakeTags t;
    t.set("NikonLd3.FocusDistance", {141});
    const auto d = read("nikon", t);
    CHECK(is(d, 33.4965));
    CHECK(*d->farthest / *d->nearest == doctest::Approx(1.0593).epsilon(.001));
    t.set("NikonLd3.FocusDistance", {0});
    CHECK_FALSE(read("nikon", t));
    t.set("NikonLd3.FocusDistance", {255});  // 23 km
    CHECK_FALSE(read("nikon", t));
    FakeTags old;
    old.set("NikonLd2.FocusDistance", {109});  // exiv2-nikon-d70.jpg
    CHECK(is(read("nikon", old), 5.30884));
  }
  TEST_CASE("Olympus: the numerator counts millimetres whatever the denominator") {
    FakeTags t;
    t.set_text("OlympusFi.FocusDistance", "705/10");  // olympus-m.zuiko-17mm-f1.2-pro.exv
    CHECK(is(read("olympus", t), .705));
    for (const char* unknown : {"4294967295/1", "0/1", "", "/", "x/1", "99999999999/1", "12"}) {
      t.set_text("OlympusFi.FocusDistance", unknown);
      CHECK_FALSE(read("olympus", t));
    }
  }
  TEST_CASE("Sony: position 140 at 85 mm is 1.22862 m") {  // exiv2-pr906.exv
    FakeTags t;
    t.set("Sony2Fp.FocusPosition2", {140}).set("Photo.FocalLengthIn35mmFilm", {85});
    CHECK(is(read("sony", t), 1.22862));
    for (const std::int64_t unknown : {0, 1, 79, 255}) {
      t.set("Sony2Fp.FocusPosition2", {unknown});
      CHECK_FALSE(read("sony", t));
    }
    FakeTags bare;
    bare.set("Sony2Fp.FocusPosition2", {140});
    CHECK_FALSE(read("sony", bare));
  }
  TEST_CASE("nonsense is refused, and what is known stays") {
    Capture c;
    const double infinity = std::numeric_limits<double>::infinity();
    for (const double bad : {0.0, -1.0, .001, 20000.0, infinity, std::nan("")}) {
      CHECK_FALSE(set_distance(c, bad, "x"));
      CHECK_FALSE(set_distance_between(c, bad, 3, "x"));
      CHECK_FALSE(set_distance_between(c, 3, bad, "x"));
    }
    CHECK_FALSE(c.distance);
    CHECK(set_distance(c, 12, "first"));
    CHECK_FALSE(set_distance(c, 13, "second"));
    CHECK(c.distance->source == "first");
  }
}
