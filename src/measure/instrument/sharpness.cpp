// blur_sigma_px: sharpness of the subject, as the sigma of the Gaussian that would blur an ideal edge as
// much.
//
// Input: full-size luma, taken scene-linear through the inverse sRGB curve (IEC 61966-2-1); the detail
// gathered in the head where it is known, else in the subject's box. Unit: full-size sensor pixels, lower is
// sharper; the pixel's own aperture is not counted. MTF50 = .187391 / sigma cycles per pixel (Gaussian PSF).
// Method: width of the mean profile of the strongest free-standing edges (measure/edge_profile.h), on the
// level of a pyramid that suits it; the sharper third of them sets the width, so that one sharp eye on a
// smooth breast counts as sharp. Bars and results: docs/measures.md. Blind to: fog and rain (they lower
// contrast, not the width); an edge in front of or behind the animal inside the box; below .4 px, where
// demosaicking and sharpening in the camera rule; a tone curve other than sRGB's, which bends the profiles a
// little. A reduced preview can't show less than about half its own reduction, so confidence falls with it.
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"blur_sigma_px", "px", 0, 64, "blur of the subject's edges; lower is sharper"},
    MeasureSpec{"mtf50", "cycles/px", 0, 2, "spatial frequency at which contrast has fallen to half"},
};

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const EdgeBlur blur = edge_blur(input.detail);
  if (blur.confidence <= 0) return;
  const double reduction = input.planes->full_per_pixel;
  const double sigma = std::min(64.0, blur.sigma * reduction);
  // Below half a preview pixel nothing can be told.
  const double resolvable = reduction > 1.05 ? std::clamp(sigma / reduction, .3, 1.0) * .9 : 1.0;
  const double confidence = blur.confidence * resolvable;
  out.push_back({"blur_sigma_px", sigma, "px", confidence, input.planes->source});
  constexpr double kGaussianMtf50 = .187391;  // sqrt(ln 2 / 2) / pi
  out.push_back({"mtf50", std::min(2.0, kGaussianMtf50 / std::max(sigma, .1)), "cycles/px", confidence,
                 input.planes->source});
}

}  // namespace

extern const Instrument sharpness{"sharpness", kProduces, from_pixels, nullptr, true};

}  // namespace burstsieve::measure::instrument
