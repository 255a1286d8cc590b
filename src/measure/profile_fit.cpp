#include "profile_fit.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::measure {
namespace {

// ln p = c - u^2 / (2 S^2) as far as the profile stands clear of zero. The weights fade out around `limit`
// rather than stop there: samples that come and go would make the answer jump.
double fitted_variance(const HalfProfile& half, double limit) {
  double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
  int samples = 0;
  for (int u = 0; u <= kProfileReach; ++u) {
    const double value = half[static_cast<std::size_t>(u)];
    if (value <= .05 * half[0]) break;
    const double fade = std::exp(-std::pow(u / limit, 4));
    const double weight = fade * value * value * (u > 0 ? 2 : 1);  // both sides were averaged
    const double x = u * u, y = std::log(value);
    w += weight, wx += weight * x, wy += weight * y, wxx += weight * x * x, wxy += weight * x * y;
    ++samples;
  }
  if (samples < 2) return 0;
  const double fall = -(w * wxy - wx * wy) / (w * wxx - wx * wx);
  return fall > 0 ? 1 / (2 * fall) : 0;
}

}  // namespace

double core_variance(const HalfProfile& half, double core) {
  if (!(half[0] > 0)) return 0;
  double variance = fitted_variance(half, 2);
  for (int turn = 0; turn < 8 && variance > 0; ++turn) {
    const double next = fitted_variance(half, core * std::sqrt(variance));
    const bool settled = std::abs(next - variance) < 1e-5 * variance;
    variance = next;
    if (settled) break;
  }
  return variance;
}

}  // namespace burstsieve::measure
