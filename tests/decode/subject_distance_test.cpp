// The focus distance that the Exif standard itself can state (tag 0x9206).
#include <doctest/doctest.h>

#include "burstsieve/decode/exif_fields.h"
#include "camera/fake_tags.h"

using namespace burstsieve;

namespace {

std::optional<double> metres(double value, const char* text) {
  camera::FakeTags tags;
  tags.set_numbers("Photo.SubjectDistance", {value}).set_text("Photo.SubjectDistance", text);
  Capture c;
  decode::read_exif_fields(tags, {6000, 4000}, c);
  return c.distance ? std::optional(c.distance->metres) : std::nullopt;
}

}  // namespace

TEST_SUITE("decode/subject_distance") {
  TEST_CASE("metres as stated") {  // exiv2-bug1026.jpg; exiftool: 33.5
    CHECK(metres(33.5, "3350/100") == 33.5);
  }
  TEST_CASE("zero is unknown and the largest numerator infinity, whatever the denominator") {
    CHECK_FALSE(metres(0, "0/1000"));  // exiv2-canon-eos-d30.jpg
    CHECK_FALSE(metres(4294967295.0, "4294967295/1"));
    CHECK_FALSE(metres(4294.967295, "4294967295/1000000"));
    CHECK_FALSE(metres(65535, "65535/1"));
  }
}
