#include "burstsieve/base/bytes.h"

namespace burstsieve {

Status ByteReader::seek(std::uint64_t position) {
  if (position > bytes_.size()) return Error{Cause::truncated, {}, "an offset points past the end"};
  at_ = static_cast<std::size_t>(position);
  return Done{};
}

Result<Bytes> ByteReader::block(std::uint64_t count, std::uint64_t item_size) {
  if (item_size != 0 && count > remaining() / item_size)
    return Error{Cause::truncated, {}, "a block runs past the end"};
  const auto size = static_cast<std::size_t>(count * item_size);
  const Bytes out = bytes_.subspan(at_, size);
  at_ += size;
  return out;
}

Result<std::uint64_t> ByteReader::number(std::size_t width) {
  const auto bytes = block(width);
  if (!bytes) return bytes.error();
  std::uint64_t value = 0;
  for (std::size_t i = 0; i < width; ++i)
    value = value << 8 | (*bytes)[order_ == ByteOrder::big ? i : width - 1 - i];
  return value;
}

Result<std::uint8_t> ByteReader::u8() {
  const auto v = number(1);
  if (!v) return v.error();
  return static_cast<std::uint8_t>(*v);
}
Result<std::uint16_t> ByteReader::u16() {
  const auto v = number(2);
  if (!v) return v.error();
  return static_cast<std::uint16_t>(*v);
}
Result<std::uint32_t> ByteReader::u32() {
  const auto v = number(4);
  if (!v) return v.error();
  return static_cast<std::uint32_t>(*v);
}
Result<std::uint64_t> ByteReader::u64() {
  return number(8);
}

}  // namespace burstsieve
