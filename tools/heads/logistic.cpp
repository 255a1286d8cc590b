#include <cmath>
#include <opencv2/core.hpp>

#include "learn.h"

namespace burstsieve::heads {

std::vector<double> logistic(const std::vector<Observation>& lines) {
  if (lines.empty()) return {};
  const int n = static_cast<int>(lines.front().x.size());
  // Standardised, so that the ridge means the same for every fact.
  std::vector<double> mean(static_cast<std::size_t>(n)), dev(static_cast<std::size_t>(n));
  for (const Observation& l : lines)
    for (std::size_t i = 0; i < l.x.size(); ++i) mean[i] += l.x[i] / static_cast<double>(lines.size());
  for (const Observation& l : lines)
    for (std::size_t i = 0; i < l.x.size(); ++i)
      dev[i] += (l.x[i] - mean[i]) * (l.x[i] - mean[i]) / static_cast<double>(lines.size());
  for (double& d : dev) d = std::sqrt(std::max(d, 1e-9));
  cv::Mat w = cv::Mat::zeros(n + 1, 1, CV_64F);
  for (int step = 0; step < 40; ++step) {
    cv::Mat g = cv::Mat::zeros(n + 1, 1, CV_64F), h = cv::Mat::zeros(n + 1, n + 1, CV_64F);
    for (int i = 0; i < n; ++i) h.at<double>(i, i) = 1, g.at<double>(i) = w.at<double>(i);  // the ridge
    h.at<double>(n, n) = 1e-6;
    cv::Mat x(n + 1, 1, CV_64F);
    for (const Observation& l : lines) {
      for (int i = 0; i < n; ++i) {
        const auto k = static_cast<std::size_t>(i);
        x.at<double>(i) = (l.x[k] - mean[k]) / dev[k];
      }
      x.at<double>(n) = 1;
      const double p = 1 / (1 + std::exp(-w.dot(x)));
      g += l.weight * (p - (l.yes ? 1 : 0)) * x;
      h += l.weight * std::max(p * (1 - p), 1e-4) * x * x.t();
    }
    cv::Mat d;
    cv::solve(h, g, d, cv::DECOMP_CHOLESKY);
    const double size = cv::norm(d);
    w -= size > 2 ? cv::Mat(d * (2 / size)) : d;
    if (size < 1e-6) break;
  }
  std::vector<double> out(static_cast<std::size_t>(n + 1));
  out.back() = w.at<double>(n);
  for (std::size_t i = 0; i < static_cast<std::size_t>(n); ++i) {
    out[i] = w.at<double>(static_cast<int>(i)) / dev[i];
    out.back() -= out[i] * mean[i];
  }
  return out;
}

}  // namespace burstsieve::heads
