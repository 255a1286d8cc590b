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

namespace {
// Sum of the squared weights of both derivatives at scale 1: 2 / (8 pi t^4).
constexpr double kWhiteGain = .0796;
}  // namespace

NoiseEnergy without_texture(double fine, double coarse, double white_variance) {
  constexpr double kTexture = 2.5, kNoise = 12, kLeastNoise = 8;  // fine : coarse
  const double by_ratio = (fine - kTexture * coarse) / (1 - kTexture / kNoise);
  const double noise = std::clamp(std::max(by_ratio, kWhiteGain * white_variance), 0.0, fine);
  return {noise, std::min(coarse, noise / kLeastNoise)};
}

double white_variance(const cv::Mat& image, const cv::Rect& inner) {
  double sum = 0;
  for (int y = inner.y; y + 2 < inner.br().y; ++y) {
    const float *a = image.ptr<float>(y) + inner.x, *b = image.ptr<float>(y + 1) + inner.x,
                *c = image.ptr<float>(y + 2) + inner.x;
    float row = 0;
    for (int x = 0; x + 2 < inner.width; ++x) {
      const float across_a = a[x] - 2 * a[x + 1] + a[x + 2], across_b = b[x] - 2 * b[x + 1] + b[x + 2],
                  across_c = c[x] - 2 * c[x + 1] + c[x + 2], both = across_a - 2 * across_b + across_c;
      row += both * both;
    }
    sum += static_cast<double>(row);
  }
  const double count = std::max(1, (inner.width - 2) * (inner.height - 2));
  return sum / (36 * count);
}

double noise_colour(std::vector<GrainCell> cells) {
  // Noise has fine : coarse from 16 (white) down to 10 (demosaiced), texture 2-3.5. Measured on dead leaves,
  // grass and brick through tools/compare's renderings.
  constexpr double kSurelyTexture = 3.8, kSurelyNoise = 5;
  constexpr double kMost = 30;
  // The lowest twentieth of cells of pure noise lies at .65 of the mean.
  constexpr double kLowest = .65;
  std::erase_if(cells, [](const GrainCell& c) { return !(c.white > 1e-10); });
  if (cells.size() < 40) return 1;
  const auto colour = [](const GrainCell& c) { return c.fine / (kWhiteGain * c.white); };
  const std::size_t count = cells.size() / 20;
  std::nth_element(cells.begin(), cells.begin() + static_cast<std::ptrdiff_t>(count), cells.end(),
                   [&](const GrainCell& a, const GrainCell& b) { return colour(a) < colour(b); });
  double fine = 0, coarse = 0;  // of cells of one grain each
  for (std::size_t i = 0; i < count; ++i)
    fine += colour(cells[i]), coarse += cells[i].coarse / (kWhiteGain * cells[i].white);
  if (!(coarse > 0)) return 1;
  const double noise =
      std::clamp((fine / coarse - kSurelyTexture) / (kSurelyNoise - kSurelyTexture), 0.0, 1.0);
  const double found = std::clamp(fine / static_cast<double>(count) / kLowest, 1.0, kMost);
  return std::pow(found, noise);
}

}  // namespace burstsieve::measure
