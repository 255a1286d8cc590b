#include "edge_streak.h"

#include <cmath>
#include <numbers>
#include <vector>

#include "profile_chain.h"

namespace burstsieve::measure {
namespace {

struct Width {
  cv::Vec3d basis;
  double variance = 0;  // px^2
  double weight = 0;    // 1 / px^4
};

std::vector<Width> widths_of(const Detail& detail) {
  // Widths of single edges scatter by a quarter, and neighbours along an edge are no new witnesses; the
  // texture's own difference between directions.
  constexpr double kScatter = .5, kOwn = .06;
  constexpr double kFilter = 1 + 1.0 / 12;  // variance of the fine scale and the pixel
  std::vector<Width> out;
  for (int k = 0; k < kDirections; ++k) {
    const auto blur = profile_chain(detail, k);
    if (!blur) continue;
    int edges = 0;
    for (const auto& level : detail.directed) edges = std::max(edges, level[static_cast<std::size_t>(k)].edges);
    const double angle = k * std::numbers::pi / kDirections, variance = blur->sigma * blur->sigma;
    const double error = (variance + kFilter) * std::hypot(kScatter / std::sqrt(edges), kOwn);
    out.push_back({{1, std::cos(2 * angle), std::sin(2 * angle)}, variance, 1 / (error * error)});
  }
  return out;
}

}  // namespace

EdgeStreak edge_streak(const Detail& detail) {
  const auto widths = widths_of(detail);
  EdgeStreak out;
  if (widths.size() < 5) return out;
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0, 0, 0};
  for (const Width& w : widths) {
    normal += w.weight * (w.basis * w.basis.t());
    right += w.weight * w.variance * w.basis;
  }
  bool solved = false;
  const cv::Matx33d inverse = normal.inv(cv::DECOMP_CHOLESKY, &solved);
  if (!solved) return out;
  const cv::Vec3d fit = inverse * right;
  double misfit = 0;
  for (const Width& w : widths) misfit += w.weight * std::pow(w.variance - fit.dot(w.basis), 2);
  const double half_swing = std::hypot(fit[1], fit[2]);
  if (!(half_swing > 0) || !std::isfinite(half_swing)) return out;
  const cv::Vec3d along{0, fit[1] / half_swing, fit[2] / half_swing};
  const double inflation = std::max(1.0, misfit / static_cast<double>(widths.size() - 3));
  out.directions = static_cast<int>(widths.size());
  out.swing = 2 * half_swing;
  out.error = 2 * std::sqrt(inflation * along.dot(inverse * along));
  out.across = std::sqrt(std::max(0.0, fit[0] - half_swing));
  out.length = std::sqrt(12 * out.swing);
  out.degrees = std::atan2(fit[2], fit[1]) / 2 * 180 / std::numbers::pi;
  return out;
}

}  // namespace burstsieve::measure
