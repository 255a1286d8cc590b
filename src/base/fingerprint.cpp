#include "burstsieve/base/fingerprint.h"

#include <xxhash.h>

#include <array>

namespace burstsieve {

std::uint64_t fingerprint_of(Bytes head, Bytes tail) {
  const std::uint64_t first = XXH64(head.data(), head.size(), 0);
  const std::uint64_t both = XXH64(tail.data(), tail.size(), first);
  return both == 0 ? 1 : both;
}

std::uint64_t combined(std::uint64_t seed, std::uint64_t value) {
  std::array<std::uint8_t, 8> bytes{};
  for (std::size_t i = 0; i < 8; ++i)
    bytes[i] = static_cast<std::uint8_t>(value >> (8 * i));  // same on every machine
  return XXH64(bytes.data(), bytes.size(), seed);
}

}  // namespace burstsieve
