#include "burstsieve/base/text.h"

#include <doctest/doctest.h>

#include <limits>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

using namespace burstsieve;

TEST_SUITE("base/text") {
  TEST_CASE("a hostile name cannot break a line or drive a terminal") {
    CHECK(one_line("a\nb") == "a\\x0ab");
    CHECK(one_line("\x1b[31mred") == "\\x1b[31mred");
    CHECK(one_line("caf\xc3\xa9") == "caf\xc3\xa9");
    CHECK(one_line("\xff\xfe") == "\\xff\\xfe");
    CHECK(one_line("\xc0\xaf") == "\\xc0\\xaf");           // overlong
    CHECK(one_line("\xed\xa0\x80") == "\\xed\\xa0\\x80");  // surrogate
    CHECK(one_line("\xc2\x9b"
                   "31m") ==
          "\\xc2\\x9b"
          "31m");                                 // C1 control sequence introducer
    CHECK(one_line("\xe2\x82") == "\\xe2\\x82");  // cut short
  }
  TEST_CASE("an error is one line that names the file") {
    CHECK(Error{Cause::io, "a\nb.jpg", "gone"}.line() == "a\\x0ab.jpg: gone");
  }
  TEST_CASE("fixed") {
    CHECK(fixed(-0.01, 1) == "0.0");
    CHECK(fixed(1.25, 1) == "1.2");
    CHECK(fixed(std::numeric_limits<double>::quiet_NaN(), 2) == "?");
  }
  TEST_CASE("trimmed removes the padding of EXIF strings") {
    CHECK(trimmed(std::string_view("  Canon \0\0", 10)) == "Canon");
    CHECK(trimmed(std::string_view("\0 ", 2)).empty());
  }
}

TEST_SUITE("base/bytes") {
  TEST_CASE("reads both byte orders and refuses to leave the buffer") {
    const ByteBuffer data{1, 2, 3, 4, 5};
    ByteReader r(data, ByteOrder::big);
    CHECK(*r.u16() == 0x0102);
    r.order(ByteOrder::little);
    CHECK(*r.u16() == 0x0403);
    CHECK_FALSE(r.u32());
    CHECK(r.position() == 4);  // a failed read does not move
    CHECK(*r.u8() == 5);
    CHECK_FALSE(r.u8());
    CHECK_FALSE(r.seek(6));
    CHECK(r.seek(5));
  }
  TEST_CASE("a count whose product overflows is refused") {
    const ByteBuffer data(16);
    ByteReader r(data);
    CHECK_FALSE(r.block(std::numeric_limits<std::uint64_t>::max(), 8));
    CHECK_FALSE(r.block(0x2000000000000001ull, 8));  // wraps to 8 in 64 bits
    CHECK(r.block(2, 8));
  }

  // RFC 3986, section 2.1: a percent sign and two hexadecimal digits per byte.
  TEST_CASE("percent escapes: whatever a name holds, it comes back") {
    CHECK(percent_escaped("/harbour/100% \xc3\xa4.JPG") == "/harbour/100%25 \xc3\xa4.JPG");
    CHECK(percent_escaped("a\xff\n\x7f\xc3") == "a%FF%0A%7F%C3");
    std::string all;
    for (int c = 1; c < 256; ++c) all += static_cast<char>(c);
    CHECK((percent_unescaped(percent_escaped(all)) == all));
    CHECK(percent_unescaped("%e4") == "\xe4");
    for (const char* bad : {"%", "%4", "%4g", "a%"}) CHECK_FALSE(percent_unescaped(bad));
  }
}
