#include "optics.h"

#include <opencv2/imgproc.hpp>

#include "geometry.h"

namespace burstsieve::generate {

cv::Mat1f streak_kernel(double length_px, double angle_deg) {
  const V2 half{.5 * length_px * std::cos(radians(angle_deg)),
                -.5 * length_px * std::sin(radians(angle_deg))};
  const int rx = static_cast<int>(std::ceil(std::abs(half.x))) + 1,
            ry = static_cast<int>(std::ceil(std::abs(half.y))) + 1;
  cv::Mat1f kernel(2 * ry + 1, 2 * rx + 1, 0.0f);
  const int steps = std::max(1, static_cast<int>(std::ceil(length_px * 16)));
  for (int i = 0; i < steps; ++i) {
    const double u = 2 * (i + .5) / steps - 1;
    const double x = rx + u * half.x, y = ry + u * half.y;
    const int ix = static_cast<int>(std::floor(x)), iy = static_cast<int>(std::floor(y));
    const auto fx = static_cast<float>(x - ix), fy = static_cast<float>(y - iy);
    const float w = 1.0f / static_cast<float>(steps);
    kernel(iy, ix) += w * (1 - fx) * (1 - fy);
    if (fx > 0) kernel(iy, ix + 1) += w * fx * (1 - fy);
    if (fy > 0) kernel(iy + 1, ix) += w * (1 - fx) * fy;
    if (fx > 0 && fy > 0) kernel(iy + 1, ix + 1) += w * fx * fy;
  }
  return kernel;
}

void blur(cv::Mat& image, double sigma_px, double streak_px, double streak_deg) {
  if (image.empty()) return;
  if (sigma_px > .05) {
    const int side = 2 * static_cast<int>(std::ceil(4 * sigma_px)) + 1;
    cv::GaussianBlur(image, image, cv::Size(side, side), sigma_px, sigma_px, cv::BORDER_REPLICATE);
  }
  if (streak_px > .05) {
    const cv::Mat1f kernel = streak_kernel(streak_px, streak_deg);
    cv::filter2D(image, image, -1, kernel, cv::Point(-1, -1), 0, cv::BORDER_REPLICATE);
  }
}

}  // namespace burstsieve::generate
