// shadow_blocked: how much of the background would be black if the whites were just held?
//
// Fraction 0..1 of the background (outside the subject's box grown by a tenth: foliage, water, wall) that is
// blocked: below L* = 2 (CIE 1976, Y = 2/903.3 of white; sRGB code 7) once the exposure is raised until the
// brightest .5 % of the white plumage reaches the clip, or below the level at which noise alone is as strong
// as the light. Whites already at the clip, or no white plumage: as exposed, which is the least that would be
// blocked after holding them; confidence is lower then. From the raw: green of the mosaic's blocks over rows
// of the whole picture, the file's own levels, no tone curve. From a JPEG: luma through the inverse sRGB
// curve; the camera's curve may have blocked or lifted shadows, so confidence is .5 at most. Blind to: what
// is black in the scene itself; light below the whole-picture rows that were read.
#include <algorithm>
#include <array>
#include <string>

#include "../background.h"
#include "../plumage.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"shadow_blocked", "", 0, 1, "share of the background that is black when the whites are held"},
};
constexpr double kBlack = 2 / 903.3;
constexpr std::size_t kFewestWhites = 50;

void report(SceneLight light, double confidence, const std::string& basis, std::vector<Measure>& out) {
  if (light.background.size() < kMinSites) return;
  double gain = 1;
  bool held = false;
  if (light.whites.size() >= kFewestWhites) {
    const double top = percentile(light.whites, .995);
    held = top < kClip;
    if (held && top > 0) gain = 1 / top;
  }
  const double limit = std::max(kBlack / gain, light.floor);
  const auto blocked = std::count_if(light.background.begin(), light.background.end(),
                                     [&](float v) { return static_cast<double>(v) < limit; });
  out.push_back({"shadow_blocked",
                 static_cast<double>(blocked) / static_cast<double>(light.background.size()), "",
                 confidence * (held ? 1 : .6), basis});
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  report(scene_light(*input.planes, input.subject, input.mask), .5, input.planes->source, out);
}

void from_mosaic(const MosaicInput& input, std::vector<Measure>& out) {
  if (!input.overview) return;
  report(scene_light(*input.overview, input.subject, input.mask), .9, "raw mosaic", out);
}

}  // namespace

extern const Instrument shadow_blocked{"shadow_blocked", kProduces, from_pixels, from_mosaic};

}  // namespace burstsieve::measure::instrument
