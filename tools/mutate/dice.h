// Random numbers that are the same everywhere: the standard library's distributions are not.
#pragma once
#include <cstdint>

namespace burstsieve::mutate {

// SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed) {}
  std::uint64_t next() {
    std::uint64_t z = state_ += 0x9e3779b97f4a7c15u;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
  }
  // 0 .. limit - 1; 0 when limit is 0. The bias is limit / 2^64.
  std::uint64_t below(std::uint64_t limit) { return limit == 0 ? 0 : next() % limit; }
  // 1 .. 2^most_bits, each power of two as likely as the next.
  std::uint64_t any_scale(unsigned most_bits) { return 1 + below(std::uint64_t{1} << below(most_bits + 1)); }

 private:
  std::uint64_t state_;
};

}  // namespace burstsieve::mutate
