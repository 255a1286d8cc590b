#include <doctest/doctest.h>

#include "burstsieve/decode/exif_time.h"

namespace burstsieve::decode {
namespace {

TEST_CASE("Exif times as milliseconds") {
  CHECK(parse_exif_time("1970:01:01 00:00:00") == 0);
  // date -u -d '2024-02-29 23:59:59' +%s
  CHECK(parse_exif_time("2024:02:29 23:59:59") == 1'709'251'199'000);
  CHECK(parse_exif_time(" 2024:02:29 23:59:59\n") == 1'709'251'199'000);
  CHECK(parse_exif_time("2024-02-29T23:59:59") == 1'709'251'199'000);
  // date -u -d '1969-12-31 23:59:58' +%s
  CHECK(parse_exif_time("1969:12:31 23:59:58") == -2000);
  CHECK(parse_exif_time("2016:12:31 23:59:60") == parse_exif_time("2016:12:31 23:59:59"));
}

TEST_CASE("what is no time") {
  for (const char* text :
       {"", "    :  :     :  :  ", "0000:00:00 00:00:00", "2023:02:29 00:00:00", "2024:13:01 00:00:00",
        "2024:01:01 24:00:00", "2024:01:01 00:60:00", "2024:01:01 00:00:61", "2024:01:01",
        "20240:1:01 00:00:00", "2024:01:01 0x:00:00", "2024:01:01 00.00.00"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_exif_time(text));
  }
}

TEST_CASE("subseconds are a decimal fraction") {
  CHECK(parse_subsecond("5") == 500);
  CHECK(parse_subsecond("07") == 70);
  CHECK(parse_subsecond("123456") == 123);
  CHECK(parse_subsecond("00 ") == 0);
  CHECK_FALSE(parse_subsecond(""));
  CHECK_FALSE(parse_subsecond("-1"));
}

TEST_CASE("offsets from UTC") {
  CHECK(parse_utc_offset("+09:00") == 540);
  CHECK(parse_utc_offset("-03:30") == -210);
  CHECK(parse_utc_offset("Z") == 0);
  for (const char* text : {"", "+15:00", "09:00", "+09", "+0900", "+09:60", "   :  "}) {
    CAPTURE(text);
    CHECK_FALSE(parse_utc_offset(text));
  }
}

}  // namespace
}  // namespace burstsieve::decode
