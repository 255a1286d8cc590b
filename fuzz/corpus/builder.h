// Files by hand, number by number.
#pragma once
#include <bit>
#include <cstdint>
#include <string_view>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace burstsieve::fuzz {

class Builder {
 public:
  explicit Builder(ByteOrder order = ByteOrder::little) : order_(order) {}
  explicit Builder(ByteBuffer start, ByteOrder order = ByteOrder::little)
      : bytes_(std::move(start)), order_(order) {}

  Builder& u8(std::uint64_t v) { return number(v, 1); }
  Builder& u16(std::uint64_t v) { return number(v, 2); }
  Builder& u32(std::uint64_t v) { return number(v, 4); }
  Builder& f64(double v) { return number(std::bit_cast<std::uint64_t>(v), 8); }
  Builder& text(std::string_view v) {
    bytes_.insert(bytes_.end(), v.begin(), v.end());
    return *this;
  }
  Builder& raw(const ByteBuffer& v) {
    bytes_.insert(bytes_.end(), v.begin(), v.end());
    return *this;
  }
  Builder& fill(std::size_t count, std::uint8_t value) {
    bytes_.insert(bytes_.end(), count, value);
    return *this;
  }
  Builder& upto(std::size_t size) {
    if (size > bytes_.size()) bytes_.resize(size);
    return *this;
  }
  std::size_t size() const { return bytes_.size(); }
  const ByteBuffer& done() const { return bytes_; }

 private:
  Builder& number(std::uint64_t v, std::size_t width) {
    for (std::size_t i = 0; i < width; ++i)
      bytes_.push_back(
          static_cast<std::uint8_t>(v >> (8 * (order_ == ByteOrder::big ? width - 1 - i : i)) & 0xff));
    return *this;
  }
  ByteBuffer bytes_;
  ByteOrder order_;
};

// A field of a TIFF directory as it stands in the file: `value` is the value itself or its offset.
struct Field {
  std::uint16_t tag, type;
  std::uint32_t count, value;
};
enum Type : std::uint16_t {
  kByte = 1,
  kAscii = 2,
  kShort = 3,
  kLong = 4,
  kRational = 5,
  kFloat = 11,
  kDouble = 12
};

inline Builder& directory(Builder& to, const std::vector<Field>& fields, std::uint32_t next = 0) {
  to.u16(fields.size());
  for (const Field& f : fields) to.u16(f.tag).u16(f.type).u32(f.count).u32(f.value);
  return to.u32(next);
}

// A little-endian TIFF whose first directory stands at 8.
inline Builder tiff(const std::vector<Field>& fields, std::uint32_t next = 0) {
  Builder b;
  b.text("II").u16(42).u32(8);
  directory(b, fields, next);
  return b;
}

// The directory of an uncompressed 16-bit DNG mosaic in one strip, sorted by tag. `at`: of the photosites.
inline std::vector<Field> plain_mosaic(std::uint32_t side, std::uint32_t at) {
  return {{254, kLong, 1, 0},
          {256, kLong, 1, side},
          {257, kLong, 1, side},
          {258, kShort, 1, 16},
          {259, kShort, 1, 1},
          {262, kShort, 1, 32803},
          {273, kLong, 1, at},
          {277, kShort, 1, 1},
          {278, kLong, 1, side},
          {279, kLong, 1, 2 * side * side},
          {33421, kShort, 2, 0x00020002},
          {33422, kByte, 4, 0x02010100},
          {50706, kByte, 4, 0x00000401}};
}

// `fields` with one replaced, or added in its place.
inline std::vector<Field> with(std::vector<Field> fields, Field f) {
  auto at = fields.begin();
  while (at != fields.end() && at->tag < f.tag) ++at;
  if (at != fields.end() && at->tag == f.tag)
    *at = f;
  else
    fields.insert(at, f);
  return fields;
}

// A whole DNG of side x side photosites that differ, at `at`.
inline ByteBuffer mosaic_file(const std::vector<Field>& fields, std::uint32_t side, std::size_t at) {
  Builder b = tiff(fields);
  b.upto(at);
  for (std::uint32_t i = 0; i < side * side; ++i) b.u16(64 + i * 37 % 900);
  return b.done();
}

}  // namespace burstsieve::fuzz
