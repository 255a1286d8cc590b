#include "tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "burstsieve/image/activity.h"

namespace burstsieve::compare {

measure::EdgeBlur ours(const cv::Mat& luma, const Region& region, const measure::NoiseFloors* known) {
  return measure::edge_blur(
      measure::gather_detail(luma, image::activity_map(luma), 1, region, nullptr, known));
}

std::vector<double> geometric(double first, double last, int steps) {
  std::vector<double> out;
  for (int i = 0; i < steps; ++i)
    out.push_back(first * std::pow(last / first, static_cast<double>(i) / (steps - 1)));
  return out;
}

std::vector<double> frame_noises(double noise, bool varies, std::size_t frames, unsigned seed) {
  std::mt19937 rng(seed * 7919 + (varies ? 1 : 0));
  std::vector<double> out;
  for (std::size_t i = 0; i < frames; ++i) {
    const double part = static_cast<double>(rng()) / 4294967296.0;
    out.push_back(varies ? noise * .6 * std::pow(1.6 / .6, part) : noise);
  }
  return out;
}

void Spread::add(double v) {
  low = std::min(low, v), high = std::max(high, v), sum += v, ++count;
}

std::string Spread::text() const {
  return count ? fmt::format("{:.3f} ({:.2f}-{:.2f})", sum / count, low, high) : std::string("none");
}

}  // namespace burstsieve::compare
