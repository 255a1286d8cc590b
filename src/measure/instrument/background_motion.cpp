// background_motion_px, background_motion_deg: the streak that the camera's own motion drew around the
// subject.
//
// Input, unit, range and source: as motion_px, from the most detailed windows outside the subject's box and a
// margin of an eighth of it, the edges from the first of them. The same streak as the subject's is camera
// shake; one in the subject alone is the subject's own; one in the background alone is a panning shot.
// Confidence 0 is not written: a background without detail, as a long lens leaves it, says nothing. Looked at
// only where it can matter: the subject may be streaked or soft, or the shutter was slower than 1/1600 s or
// is unknown. Blind to: what motion_px is blind to; a background that moves by itself (water, reeds in the
// wind).
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/streak.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"background_motion_px", "px", 0, 1000,
                "length of the streak that motion drew in the background; 0: none"},
    MeasureSpec{"background_motion_deg", "deg", -90, 90,
                "direction of that streak; 0 is horizontal, counter-clockwise"},
};

// At 1/1600 s a panning of 1,000 px/s, a bird across a 6,000 px frame in 6 s, draws less than a pixel.
constexpr double kFastShutter = 1.0 / 1600;  // s
constexpr int kWindows = 2;

// Stems of reeds and the grain of a defocused scene have a direction and no bars: as far as bars show, on
// enough of the spectrum, a streak counts. Set on rendered scenes and natural textures (burstsieve-calibrate,
// seed 3).
double bars_show(const Streak& s) {
  return std::clamp((s.bars - .03) / .06, 0.0, 1.0) * std::clamp((s.reach - .12) / .08, 0.0, 1.0);
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const bool fast = input.capture->exposure_s && *input.capture->exposure_s <= kFastShutter;
  if (input.subject.box.empty() || (fast && !streak_possible(input.detail))) return;
  const int orientation = input.planes->orientation;
  const Spectrum spectrum =
      spectrum_of(input.planes->luma, *input.activity,
                  background_cells(*input.activity, orientation, input.subject.box), kWindows);
  if (spectrum.windows == 0) return;
  const Detail detail =
      gather_detail(input.planes->luma, *input.activity, orientation, upright(spectrum.place, orientation));
  Streak streak = find_streak(spectrum, detail, orientation);
  // A background blurred by 4 px and more, as a long lens leaves it, hides the streaks that matter: that none
  // was seen says nothing then.
  constexpr double kHides = 4;  // px
  streak.confidence *=
      streak.length > 0 ? bars_show(streak) : std::clamp((kHides - streak.softness) / 2, 0.0, 1.0);
  if (streak.confidence <= 0) return;
  const double length = std::min(1000.0, streak.length * input.planes->full_per_pixel);
  out.push_back({"background_motion_px", length, "px", streak.confidence, input.planes->source});
  if (length > 0)
    out.push_back({"background_motion_deg", streak.degrees, "deg", streak.confidence, input.planes->source});
}

}  // namespace

extern const Instrument background_motion{"background_motion", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
