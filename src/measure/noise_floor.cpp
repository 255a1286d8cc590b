#include "noise_floor.h"

#include <algorithm>
#include <numeric>

namespace burstsieve::measure {

double NoiseLine::at(double mean) const {
  return std::max(0.0, slope * mean + offset);
}

NoiseLine fit_line(const std::vector<double>& mean, const std::vector<double>& energy) {
  const auto n = static_cast<double>(mean.size());
  if (mean.empty()) return {};
  const double sx = std::accumulate(mean.begin(), mean.end(), 0.0),
               sy = std::accumulate(energy.begin(), energy.end(), 0.0);
  double sxx = 0, sxy = 0;
  for (std::size_t i = 0; i < mean.size(); ++i) sxx += mean[i] * mean[i], sxy += mean[i] * energy[i];
  const double det = n * sxx - sx * sx;
  NoiseLine line{det > 1e-9 ? (n * sxy - sx * sy) / det : 0, 0};
  line.offset = (sy - line.slope * sx) / n;
  if (line.slope < 0) return {0, sy / n};
  if (line.offset < 0) return {sxx > 0 ? sxy / sxx : 0, 0};
  return line;
}

NoiseEnergy without_texture(double fine, double coarse) {
  constexpr double kTexture = 2.5, kNoise = 12, kLeastNoise = 6;  // fine : coarse
  const double noise = std::clamp((fine - kTexture * coarse) / (1 - kTexture / kNoise), 0.0, fine);
  return {noise, std::min(coarse, noise / kLeastNoise)};
}

}  // namespace burstsieve::measure
