#include "targets.h"

#include "geometry.h"
#include "random.h"

namespace burstsieve::generate {

cv::Mat1f render_edge(cv::Size size, double sigma_px, double angle_deg, double contrast) {
  cv::Mat1f image(size);
  const double c = std::cos(radians(angle_deg)), s = std::sin(radians(angle_deg));
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      const double d = (x + .5 - .5 * size.width) * c - (y + .5 - .5 * size.height) * s;
      const double step = sigma_px > 0 ? std::erf(d / (sigma_px * std::sqrt(2.0))) : (d < 0 ? -1.0 : 1.0);
      image(y, x) = static_cast<float>(.5 * (1 + contrast * step));
    }
  }
  return image;
}

cv::Mat1f render_dead_leaves(cv::Size size, std::uint64_t seed) {
  cv::Mat1f image(size, .4f);
  Random random(derive(seed, 5));
  const double r0 = 1.5, r1 = std::max(2.0, .25 * std::min(size.width, size.height));
  // Mean area of a disc under the 1/r^3 law is 2 pi ln(r1/r0) / (1/r0^2 - 1/r1^2); six layers leave e^-6
  // bare.
  const double mean_area = 6.283185307179586 * std::log(r1 / r0) / (1 / (r0 * r0) - 1 / (r1 * r1));
  const auto count = static_cast<int>(6.0 * size.width * size.height / mean_area);
  for (int i = 0; i < count; ++i) {
    const double u = random.uniform();
    const double r = 1 / std::sqrt(mix(1 / (r0 * r0), 1 / (r1 * r1), u));
    const double cx = random.uniform(-r, size.width + r), cy = random.uniform(-r, size.height + r);
    const auto tone = static_cast<float>(random.uniform(.05, .9));
    for (int y = std::max(0, static_cast<int>(cy - r - 1));
         y <= std::min(size.height - 1, static_cast<int>(cy + r + 1)); ++y) {
      for (int x = std::max(0, static_cast<int>(cx - r - 1));
           x <= std::min(size.width - 1, static_cast<int>(cx + r + 1)); ++x) {
        const double inside = r - std::hypot(x + .5 - cx, y + .5 - cy) + .5;
        if (inside <= 0) continue;
        const auto a = static_cast<float>(std::min(1.0, inside));
        image(y, x) += a * (tone - image(y, x));
      }
    }
  }
  return image;
}

}  // namespace burstsieve::generate
