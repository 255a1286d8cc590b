// focus_elsewhere, focus_elsewhere_px, focus_elsewhere_side, focus_elsewhere_x/y/w/h: did the focus land on
// something else than the subject, and where?
//
// focus_elsewhere: how many times sharper the sharpest plane of the frame is than the subject, >= 1; 1 when
// the subject is in it. Only where it is not, the others are given. focus_elsewhere_px: blur sigma of that
// plane in full-size px, measured as blur_sigma_px is. focus_elsewhere_side: -1 it lies before the subject, 1
// behind it, 0 the picture does not tell. x, y, w, h: its place, 0..1 of the upright frame. Input: the focus
// map of the luma (measure/focus_map.h, where the method stands) and the subject's box. Source: our own; the
// ground-plane rule is plain perspective. Confidence: amount of sharp detail elsewhere and of the subject's
// own edges. Blind to: a level of its own above the ground (a branch that hangs in from above); a soft
// subject alone in a plain sky, where nothing else is sharp either; why the subject is soft (its own motion
// looks the same; the verdict asks motion_px).
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"focus_elsewhere", "x", 1, 160, "how many times sharper another plane is than the subject"},
    MeasureSpec{"focus_elsewhere_px", "px", 0, 64, "blur of that plane; lower is sharper"},
    MeasureSpec{"focus_elsewhere_side", "", -1, 1, "-1: before the subject; 1: behind it; 0: not told"},
    MeasureSpec{"focus_elsewhere_x", "", 0, 1, "left edge of that plane's place in the frame"},
    MeasureSpec{"focus_elsewhere_y", "", 0, 1, "its upper edge"},
    MeasureSpec{"focus_elsewhere_w", "", 0, 1, "its width"},
    MeasureSpec{"focus_elsewhere_h", "", 0, 1, "its height"},
};

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const decode::Planes& p = *input.planes;
  const FocusMap map =
      input.focus ? *input.focus : upright(focus_map(p.luma, *input.activity), p.orientation);
  const FocusPlane plane = focus_plane(map, input.subject.box);
  if (plane.side == FocusSide::unknown) return;
  const auto say = [&](const char* id, double value, const char* unit, double confidence) {
    out.push_back({id, value, unit, confidence, p.source});
  };
  if (plane.side == FocusSide::subject) return say("focus_elsewhere", 1, "x", plane.confidence);
  const EdgeBlur there = edge_blur(gather_detail(p.luma, *input.activity, p.orientation, plane.place));
  const EdgeBlur here = edge_blur(input.detail);
  if (there.confidence <= 0) return;
  // A soft subject in noise has no edge sharp enough for the fine scales: the coarse map has to do.
  const double subject = here.confidence > 0 ? here.sigma : plane.own_sigma;
  if (!(subject > 0)) return;
  // Below .4 px sampling decides, not focus.
  const double ratio = std::clamp(subject / std::max(.4, there.sigma), 1.0, 160.0);
  // Two witnesses that disagree: the subject's edges are hardly softer than the plane that is said to be
  // sharper.
  const double agree = ratio < 1.3 ? .4 : 1.0;
  const double sure = agree * plane.confidence * std::clamp(there.confidence / .5, .3, 1.0);
  say("focus_elsewhere", ratio, "x", sure);
  say("focus_elsewhere_px", std::min(64.0, there.sigma * p.full_per_pixel), "px", sure);
  const bool told = plane.side != FocusSide::elsewhere;
  say("focus_elsewhere_side",
      !told                             ? 0
      : plane.side == FocusSide::before ? -1
                                        : 1,
      "", told ? sure : .5 * sure);
  say("focus_elsewhere_x", plane.place.x, "", sure);
  say("focus_elsewhere_y", plane.place.y, "", sure);
  say("focus_elsewhere_w", plane.place.w, "", sure);
  say("focus_elsewhere_h", plane.place.h, "", sure);
}

}  // namespace

extern const Instrument focus_elsewhere{"focus_elsewhere", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
