// Our own random numbers, so that a seed gives the same pictures whatever the standard library's
// distributions do.
#pragma once
#include <array>
#include <cmath>
#include <cstdint>

namespace burstsieve::generate {

// SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number generators, OOPSLA 2014; constants from
// memory).
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  std::uint64_t bits() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  double uniform() { return static_cast<double>(bits() >> 11) * 0x1.0p-53; }  // [0,1)
  double uniform(double lo, double hi) { return lo + (hi - lo) * uniform(); }
  int below(int n) { return static_cast<int>(uniform() * n); }  // 0..n-1
  bool chance(double p) { return uniform() < p; }
  double normal() {  // Box-Muller, mean 0, sd 1
    const double radius = std::sqrt(-2 * std::log(1 - uniform()));
    return radius * std::cos(6.283185307179586 * uniform());
  }

 private:
  std::uint64_t state_;
};

// A seed for a part of the work, independent of the order in which parts are made.
inline std::uint64_t derive(std::uint64_t seed, std::uint64_t part) {
  Random r(seed ^ (part * 0xD1B54A32D192ED03ULL));
  r.bits();
  return r.bits();
}

inline float lattice(std::int32_t ix, std::int32_t iy, std::uint32_t seed) {
  std::uint32_t h =
      static_cast<std::uint32_t>(ix) * 0x9E3779B1u ^ static_cast<std::uint32_t>(iy) * 0x85EBCA77u ^ seed;
  h ^= h >> 15;
  h *= 0x2C1B3C6Du;
  h ^= h >> 12;
  h *= 0x297A2D39u;
  h ^= h >> 15;
  return static_cast<float>(h >> 8) * (2.0f / 16777216.0f) - 1.0f;
}

// Smooth value noise, -1..1, features about one unit wide.
inline float noise2(float x, float y, std::uint32_t seed) {
  // Truncation and a correction: std::floor is a function call on plain x86-64, and this is the innermost
  // loop.
  const auto tx = static_cast<std::int32_t>(x), ty = static_cast<std::int32_t>(y);
  const std::int32_t ix = tx - (x < static_cast<float>(tx) ? 1 : 0),
                     iy = ty - (y < static_cast<float>(ty) ? 1 : 0);
  float u = x - static_cast<float>(ix), v = y - static_cast<float>(iy);
  u = u * u * (3 - 2 * u);
  v = v * v * (3 - 2 * v);
  const float top = lattice(ix, iy, seed) * (1 - u) + lattice(ix + 1, iy, seed) * u;
  const float low = lattice(ix, iy + 1, seed) * (1 - u) + lattice(ix + 1, iy + 1, seed) * u;
  return top * (1 - v) + low * v;
}

}  // namespace burstsieve::generate
