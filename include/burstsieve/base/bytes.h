// The one bounds check: the only way this project reads numbers out of bytes it did not write.
#pragma once
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve {

using Bytes = std::span<const std::uint8_t>;
using ByteBuffer = std::vector<std::uint8_t>;

enum class ByteOrder { little, big };

// A cursor over bytes it does not own. Never reads outside them; a failed read leaves the cursor where it
// was.
class ByteReader {
 public:
  explicit ByteReader(Bytes bytes, ByteOrder order = ByteOrder::little) : bytes_(bytes), order_(order) {}

  std::size_t position() const { return at_; }
  std::size_t remaining() const { return bytes_.size() - at_; }
  void order(ByteOrder order) { order_ = order; }

  Status seek(std::uint64_t position);
  Result<std::uint8_t> u8();
  Result<std::uint16_t> u16();
  Result<std::uint32_t> u32();
  Result<std::uint64_t> u64();
  // `count` items of `item_size` bytes; the product is checked, not trusted.
  Result<Bytes> block(std::uint64_t count, std::uint64_t item_size = 1);

 private:
  Result<std::uint64_t> number(std::size_t width);
  Bytes bytes_;
  ByteOrder order_;
  std::size_t at_ = 0;
};

}  // namespace burstsieve
