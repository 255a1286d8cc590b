// A cheap identity of a file's contents.
#pragma once
#include <cstddef>
#include <cstdint>

#include "burstsieve/base/bytes.h"

namespace burstsieve {

// Bytes taken from each end of a file: its metadata at the head, its last image data at the tail.
inline constexpr std::size_t kFingerprintEnd = 64 * 1024;

// XXH64 of the tail, seeded with that of the head. Two exposures never share both ends: time and noise
// differ. Never 0, which stands for unknown.
std::uint64_t fingerprint_of(Bytes head, Bytes tail);

// Hash of a list of numbers, in order; for keys over several files.
std::uint64_t combined(std::uint64_t seed, std::uint64_t value);

}  // namespace burstsieve
