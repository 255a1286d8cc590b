// Pixel pitch from the standard tags.
#include <doctest/doctest.h>

#include <cmath>

#include "burstsieve/decode/exif_fields.h"
#include "camera/fake_tags.h"

using namespace burstsieve;

namespace {

std::optional<double> pitch(const camera::FakeTags& tags, int width = 6000, int height = 4000) {
  Capture c;
  decode::read_exif_fields(tags, {width, height}, c);
  return c.pixel_pitch_um;
}

}  // namespace

TEST_SUITE("decode/pixel_pitch") {
  // The value of a real file (exiftool: 3959.322034 per inch); the maker states pixels of 6.4 um for that
  // body.
  TEST_CASE("from the resolution on the focal plane, in inches and centimetres") {
    camera::FakeTags tags;
    tags.set_numbers("Photo.FocalPlaneXResolution", {3959.322034}).set("Photo.FocalPlaneResolutionUnit", {2});
    REQUIRE(pitch(tags));
    CHECK(std::abs(*pitch(tags) - 6.415) < .001);
    tags.set_numbers("Photo.FocalPlaneXResolution", {3959.322034 / 2.54})
        .set("Photo.FocalPlaneResolutionUnit", {3});
    REQUIRE(pitch(tags));
    CHECK(std::abs(*pitch(tags) - 6.415) < .001);
  }
  // A real 6000 x 4000 file says 22 mm, equivalent to 33 mm; its sensor is 23.5 mm wide: 3.92 um.
  TEST_CASE("from the 35 mm equivalent, within a few per cent") {
    camera::FakeTags tags;
    tags.set_numbers("Photo.FocalLength", {22}).set("Photo.FocalLengthIn35mmFilm", {33});
    REQUIRE(pitch(tags));
    CHECK(std::abs(*pitch(tags) / 3.92 - 1) < .03);
  }
  TEST_CASE("unknown where the file says nothing or nonsense") {
    camera::FakeTags tags;
    CHECK_FALSE(pitch(tags));
    tags.set_numbers("Photo.FocalPlaneXResolution", {72}).set("Photo.FocalPlaneResolutionUnit", {2});
    CHECK_FALSE(pitch(tags));  // a screen's resolution, 353 um
    tags.set_numbers("Photo.FocalLength", {600}).set("Photo.FocalLengthIn35mmFilm", {1});
    CHECK_FALSE(pitch(tags));
    tags.set_numbers("Photo.FocalPlaneXResolution", {3959}).set("Photo.FocalPlaneResolutionUnit", {77});
    CHECK_FALSE(pitch(tags));
  }
}
