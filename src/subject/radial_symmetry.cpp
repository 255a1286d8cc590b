#include "burstsieve/subject/radial_symmetry.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace burstsieve::subject {

cv::Mat dark_symmetry(const cv::Mat& grey, int radius, float weakest) {
  if (grey.empty() || grey.type() != CV_32F || radius < 1 || radius > 64) return {};
  cv::Mat votes = cv::Mat::zeros(grey.size(), CV_32F), weight = cv::Mat::zeros(grey.size(), CV_32F);
  const float least = std::max(weakest, 1e-6f);
  for (int y = 1; y + 1 < grey.rows; ++y) {
    const auto *above = grey.ptr<float>(y - 1), *row = grey.ptr<float>(y), *below = grey.ptr<float>(y + 1);
    for (int x = 1; x + 1 < grey.cols; ++x) {
      const float dx = .5f * (row[x + 1] - row[x - 1]), dy = .5f * (below[x] - above[x]);
      const float g2 = dx * dx + dy * dy;
      if (g2 < least * least) continue;
      const float g = std::sqrt(g2), step = static_cast<float>(radius) / g;
      const int tx = x - static_cast<int>(std::lround(dx * step)),
                ty = y - static_cast<int>(std::lround(dy * step));
      if (tx < 0 || ty < 0 || tx >= grey.cols || ty >= grey.rows) continue;
      votes.at<float>(ty, tx) += 1;
      weight.at<float>(ty, tx) += g;
    }
  }
  const float most = radius == 1 ? 8.0f : 9.9f;  // the paper's k_n
  for (int y = 0; y < grey.rows; ++y) {
    auto* w = weight.ptr<float>(y);
    const auto* v = votes.ptr<float>(y);
    for (int x = 0; x < grey.cols; ++x) {
      const float share = std::min(v[x], most) / most;
      w[x] *= share * share / most;
    }
  }
  cv::GaussianBlur(weight, weight, {}, .25 * radius, .25 * radius, cv::BORDER_CONSTANT | cv::BORDER_ISOLATED);
  return weight * radius;
}

}  // namespace burstsieve::subject
