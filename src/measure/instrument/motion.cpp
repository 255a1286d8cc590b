// motion_px, motion_deg: how far and which way the image moved during the exposure, seen in the subject.
//
// Input: as sharpness. Uniform motion over L px adds L^2/12 to the variance of the blur along it and nothing
// across, so the blur over gradient directions follows sigma^2(a) = s0^2 + (L^2/12) cos^2(a - a0), fitted by
// weighted least squares. motion_px: full-size pixels, >= 0. motion_deg: (-90, 90], 0 = horizontal,
// counter-clockwise, upright frame. Blind to: motion below about 3 px; a subject whose edges all run one way;
// whether camera or subject moved.
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"motion_px", "px", 0, 400, "length of the streak that motion drew in the subject"},
    MeasureSpec{"motion_deg", "deg", -90, 90, "direction of that streak; 0 is horizontal, counter-clockwise"},
};

struct Fit {
  double length = 0, degrees = 0, confidence = 0;
};

Fit fit_directions(const Detail& detail) {
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0, 0, 0};
  double weight_total = 0, confidence = 0;
  int known = 0;
  for (int k = 0; k < kDirections; ++k) {
    const EdgeBlur blur = edge_blur(detail, k);
    if (blur.confidence <= .1) continue;
    const double angle = k * std::numbers::pi / kDirections;
    const cv::Vec3d basis{1, std::cos(2 * angle), std::sin(2 * angle)};
    const double variance = blur.sigma * blur.sigma;
    // The error of a variance grows with it: equal relative errors.
    const double w = blur.confidence / std::max(.25, variance * variance);
    for (int i = 0; i < 3; ++i) {
      right[i] += w * basis[i] * variance;
      for (int j = 0; j < 3; ++j) normal(i, j) += w * basis[i] * basis[j];
    }
    weight_total += w;
    confidence += blur.confidence;
    ++known;
  }
  if (known < kDirections / 2 || !(weight_total > 0)) return {};
  bool solved = false;
  const cv::Vec3d fit = normal.solve(right, cv::DECOMP_CHOLESKY);
  solved = std::isfinite(fit[0]) && std::isfinite(fit[1]) && std::isfinite(fit[2]);
  if (!solved) return {};
  const double swing = 2 * std::hypot(fit[1], fit[2]);  // variance along minus variance across
  const double across = std::max(.05, fit[0] - swing / 2);
  Fit out;
  out.length = std::sqrt(12 * std::max(0.0, swing));
  out.degrees = std::atan2(fit[2], fit[1]) / 2 * 180 / std::numbers::pi;
  // Textures are never quite isotropic: a swing below the blur across it is no proof of motion.
  const double proof = std::clamp((swing / across - .5) / 1.5, 0.0, 1.0);
  out.confidence = confidence / kDirections * proof;
  return out;
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Fit fit = fit_directions(input.detail);
  if (fit.confidence <= 0) return;
  const double length = std::min(400.0, fit.length * input.planes->full_per_pixel);
  out.push_back({"motion_px", length, "px", fit.confidence, input.planes->source});
  out.push_back({"motion_deg", fit.degrees, "deg", fit.confidence, input.planes->source});
}

}  // namespace

extern const Instrument motion{"motion", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
