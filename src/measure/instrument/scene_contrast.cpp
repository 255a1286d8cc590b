// scene_contrast_ev: how harsh is the light?
//
// Stops between the bright and the dark end of the whole picture's light: log2(bright / dark), >= 0. bright:
// 99.5th percentile, at most the clip; dark: 1st percentile, at least the level at which noise alone is as
// strong as the light. An end that lies at its stop makes the value a lower bound, and confidence falls. From
// the raw: green of the mosaic's blocks over rows of the whole picture, the file's own levels. From a JPEG:
// luma through the inverse sRGB curve, after the camera's own curve, which compresses contrast: confidence .5
// at most. Open shade has 4 to 6 stops, sun on white plumage before foliage 8 and more (common practice, no
// source). Blind to: where in the picture the ends lie.
#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "../background.h"
#include "../plumage.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"scene_contrast_ev", "EV", 0, 20, "stops from the dark to the bright end of the picture"},
};

void report(SceneLight light, double confidence, const std::string& basis, std::vector<Measure>& out) {
  if (light.all.size() < kMinSites) return;
  const double bright = std::min(1.0, percentile(light.all, .995)), dark = percentile(light.all, .01);
  const double floor = std::max(light.floor, 1e-6);
  if (!(bright > floor)) return;  // a black frame has no contrast to speak of
  if (bright >= kClip) confidence *= .7;
  if (dark <= floor) confidence *= .7;
  out.push_back({"scene_contrast_ev", std::clamp(std::log2(bright / std::max(dark, floor)), 0.0, 20.0), "EV",
                 confidence, basis});
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  report(scene_light(*input.planes, input.subject, input.mask), .5, input.planes->source, out);
}

void from_mosaic(const MosaicInput& input, std::vector<Measure>& out) {
  if (!input.overview) return;
  report(scene_light(*input.overview, input.subject, input.mask), .9, "raw mosaic", out);
}

}  // namespace

extern const Instrument scene_contrast{"scene_contrast", kProduces, from_pixels, from_mosaic};

}  // namespace burstsieve::measure::instrument
