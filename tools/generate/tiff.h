// The few parts of TIFF 6.0 that EXIF blocks and CFA DNG files need. Little-endian. One writer serves both,
// so a JPEG and its DNG twin carry the same facts, and the bytes depend on the input only.
#pragma once
#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace burstsieve::generate {

using ByteBuffer = std::vector<unsigned char>;

struct Rational {
  std::uint32_t num = 0, den = 1;
};
// Closest fraction with a denominator fit for people: 1/n for short times, else thousandths.
Rational rational_of(double value);

// One image file directory: tags in ascending order, as the standard asks.
class Directory {
 public:
  void bytes(std::uint16_t tag, const ByteBuffer& value);                   // BYTE
  void undefined(std::uint16_t tag, std::string_view value);                // UNDEFINED
  void ascii(std::uint16_t tag, std::string_view value);                    // ASCII, NUL added
  void shorts(std::uint16_t tag, const std::vector<std::uint16_t>& value);  // SHORT
  void longs(std::uint16_t tag, const std::vector<std::uint32_t>& value);   // LONG
  void rationals(std::uint16_t tag, const std::vector<Rational>& value);    // RATIONAL
  void srationals(std::uint16_t tag, const std::vector<double>& value);     // SRATIONAL, ten-thousandths
  void doubles(std::uint16_t tag, const std::vector<double>& value);        // DOUBLE

  std::uint32_t size() const;  // bytes of the directory with the values that do not fit into its entries
  void append_to(ByteBuffer& out) const;  // out.size() is the directory's offset in the file; must be even

 private:
  struct Entry {
    std::uint16_t type;
    std::uint32_t count;
    ByteBuffer value;
  };
  void put(std::uint16_t tag, std::uint16_t type, std::uint32_t count, ByteBuffer value);
  std::map<std::uint16_t, Entry> entries_;
};

// "II", 42 and the offset of the first directory, which follows at 8.
ByteBuffer tiff_header();

}  // namespace burstsieve::generate
