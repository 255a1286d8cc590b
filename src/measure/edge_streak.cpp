#include "edge_streak.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "profile_chain.h"

namespace burstsieve::measure {
namespace {

// The core of a box is wider than a Gaussian's of the same variance: 3 to 10 px read 13 % long on dead
// leaves.
constexpr double kCore = 1.13;
constexpr double kFilter = 1 + 1.0 / 12;  // px^2, variance of the fine scale and the pixel
constexpr double kWidestVariance = 6;     // px^2; wider ones are told from narrow ones, not from each other

double added_variance(double length) {
  return std::pow(kCore * length, 2) / 12;
}

double log_width(double variance) {
  return std::log(std::min(variance, kWidestVariance) + kFilter);
}

// Outliers are other things in the region, at another distance: a Cauchy distribution's tails keep them from
// outvoting the rest.
double at_length(const EdgeWidths& widths, double length, double angle) {
  constexpr std::array kAcross{.02, .1, .2, .35, .5, .7, 1.0, 1.4, 2.0, 3.0, 4.5};  // s0^2, px^2
  std::array<double, kDirections> along{};
  for (std::size_t k = 0; k < widths.size(); ++k)
    along[k] = std::pow(std::cos(widths[k].angle - angle), 2) * added_variance(length);
  double least = 1e300;
  for (const double across : kAcross) {
    double misfit = 1;
    for (std::size_t k = 0; k < widths.size(); ++k) {
      const double errors = (widths[k].log_width - log_width(across + along[k])) / widths[k].error;
      misfit *= 1 + errors * errors / 4;
    }
    least = std::min(least, misfit);
  }
  return -2 * std::log(least);
}

}  // namespace

EdgeWidths edge_widths(const Detail& detail, int orientation) {
  // Widths of single edges scatter by half, as neighbours along an edge are no new witnesses; and what the
  // texture itself differs by.
  constexpr double kScatter = .5, kOwn = .1;
  EdgeWidths out;
  for (int k = 0; k < kDirections; ++k) {
    const auto blur = profile_chain(detail, k);
    if (!blur) continue;
    int edges = 1;
    for (const auto& level : detail.directed)
      edges = std::max(edges, level[static_cast<std::size_t>(k)].edges);
    const double variance = blur->sigma * blur->sigma;
    out.push_back({sensor_angle(180.0 * k / kDirections, orientation), variance, log_width(variance),
                   std::hypot(kScatter / std::sqrt(edges), kOwn)});
  }
  return out;
}

EdgeStreak edge_streak(const EdgeWidths& widths) {
  if (widths.size() < 5) return {};
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0, 0, 0};
  for (const EdgeWidth& w : widths) {
    const cv::Vec3d basis{1, std::cos(2 * w.angle), std::sin(2 * w.angle)};
    const double weight = std::pow((w.variance + kFilter) * w.error, -2);
    normal += weight * (basis * basis.t());
    right += weight * w.variance * basis;
  }
  const cv::Vec3d fit = normal.solve(right, cv::DECOMP_CHOLESKY);
  const double half_swing = std::hypot(fit[1], fit[2]);
  if (!(half_swing > 0) || !std::isfinite(half_swing)) return {};
  return {std::sqrt(24 * half_swing) / kCore, std::atan2(fit[2], fit[1]) / 2};
}

double log_likelihood(const EdgeWidths& widths, double length, double angle) {
  // Wide ramps saturate, and of a long streak the sharper remains are what stands free: the widths of a
  // longer streak may look like those of any shorter one down to this.
  constexpr double kSaturates = 5, kNext = 1.35;
  double best = at_length(widths, length, angle);
  for (double shorter = kSaturates; shorter < length && shorter < 20; shorter *= kNext)
    best = std::max(best, at_length(widths, shorter, angle));
  return best;
}

double upright_degrees(double angle, int orientation) {
  double dx = std::cos(angle), dy = std::sin(angle);  // y down; the sign of the whole does not matter
  if (orientation == 2 || orientation == 4) dx = -dx;
  if (orientation >= 5 && orientation <= 8) std::swap(dx, dy);
  if (orientation == 6 || orientation == 8) dx = -dx;
  const double degrees = std::remainder(std::atan2(-dy, dx) * 180 / std::numbers::pi, 180);
  return degrees <= -90 ? degrees + 180 : degrees;
}

double sensor_angle(double degrees, int orientation) {
  double dx = std::cos(degrees * std::numbers::pi / 180), dy = -std::sin(degrees * std::numbers::pi / 180);
  if (orientation == 6 || orientation == 8) dx = -dx;
  if (orientation >= 5 && orientation <= 8) std::swap(dx, dy);
  if (orientation == 2 || orientation == 4) dx = -dx;
  return std::atan2(dy, dx);
}

}  // namespace burstsieve::measure
