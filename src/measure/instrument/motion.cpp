// motion_px, motion_deg: how far and which way the image moved during the exposure, seen in the subject.
//
// Input: full-size luma, taken scene-linear; the subject's box and outline. motion_px: full-size pixels, 0 or
// 2.6 to 50; 0 says that no streak of 3 px or more was seen. motion_deg: (-90, 90], 0 = horizontal,
// counter-clockwise, upright frame; only with a streak. Confidence: the share of such answers that is right,
// a streak's within 1.5 px or 10 % and 4 degrees (docs/measures.md). Source: bars of uniform motion in the
// power spectrum and the widths of edges by direction (measure/streak.h), looked for only where the edges
// leave room for a streak. On animals too small for a spectrum (48 px) the blur over gradient directions
// stands in: sigma^2(a) = s0^2 + (L^2/12) cos^2(a - a0); it reads long streaks short and never has the
// confidence to reject. texture_blur_px: blur across the streak, or in all directions without one, full-size
// pixels, from the fall of the same spectrum; good to about 40 %, so its confidence stays low: it stands in
// where blur_sigma_px finds no edges, and bears it out where it does. Blind to: what the texture itself
// lacks. Blind to: motion below 2.6 px and beyond 50; motion that is not uniform; whether camera or subject
// moved (background_motion_px tells).
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/streak.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"motion_px", "px", 0, 1000, "length of the streak that motion drew in the subject; 0: none"},
    MeasureSpec{"motion_deg", "deg", -90, 90, "direction of that streak; 0 is horizontal, counter-clockwise"},
    MeasureSpec{"texture_blur_px", "px", 0, 64, "blur of the subject's texture apart from the streak; rough"},
};

constexpr int kWindows = 3;

// Blur over the directions of gradients, by weighted least squares.
Streak fit_directions(const Detail& detail) {
  constexpr double kMostConfidence = .5;
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
  const cv::Vec3d fit = normal.solve(right, cv::DECOMP_CHOLESKY);
  if (!std::isfinite(fit[0]) || !std::isfinite(fit[1]) || !std::isfinite(fit[2])) return {};
  const double swing = 2 * std::hypot(fit[1], fit[2]);  // variance along minus variance across
  const double across = std::max(.05, fit[0] - swing / 2);
  Streak out;
  out.length = std::sqrt(12 * std::max(0.0, swing));
  out.degrees = std::atan2(fit[2], fit[1]) / 2 * 180 / std::numbers::pi;
  // Textures are never quite isotropic: a swing below the blur across it is no proof of motion.
  const double proof = std::clamp((swing / across - .5) / 1.5, 0.0, 1.0);
  out.confidence = std::min(kMostConfidence, confidence / kDirections * proof);
  constexpr double kLeast = .3;
  if (out.length < kShortestStreak || out.confidence < kLeast) return {};
  return out;
}

// The spectrum looks at the whole animal; where the camera's focus area is a small part of it, so must the
// edges.
Detail all_edges(const PixelInput& input) {
  constexpr int kEnough = 20;  // of the 24 tiles that gather_detail looks at, at most
  if (input.detail.tiles >= kEnough) return input.detail;
  return gather_detail(input.planes->luma, *input.activity, input.planes->orientation, input.subject.box,
                       &input.mask);
}

Streak streak_of(const PixelInput& input) {
  const EdgeBlur blur = edge_blur(input.detail);
  if (!streak_possible(input.detail)) {
    Streak none;
    none.confidence = blur.confidence;
    return none;
  }
  const cv::Mat& luma = input.planes->luma;
  const int orientation = input.planes->orientation;
  const Spectrum spectrum =
      spectrum_of(luma, *input.activity,
                  subject_cells(*input.activity, orientation, input.subject.box, input.mask), kWindows);
  if (spectrum.windows == 0) return fit_directions(input.detail);
  return find_streak(spectrum, all_edges(input), orientation);
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Streak streak = streak_of(input);
  if (streak.softness > 0) {
    constexpr double kRough = .35;
    out.push_back({"texture_blur_px", std::min(64.0, streak.softness * input.planes->full_per_pixel), "px",
                   kRough * std::min(1.0, streak.reach / .1), input.planes->source});
  }
  if (streak.confidence <= 0) return;
  const double length = std::min(1000.0, streak.length * input.planes->full_per_pixel);
  out.push_back({"motion_px", length, "px", streak.confidence, input.planes->source});
  if (length > 0)
    out.push_back({"motion_deg", streak.degrees, "deg", streak.confidence, input.planes->source});
}

}  // namespace

extern const Instrument motion{"motion", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
