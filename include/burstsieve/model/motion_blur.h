// The optics of motion blur: from speed to pixels and back. Plain numbers; std only.
#pragma once
#include <optional>

#include "burstsieve/model/capture.h"

namespace burstsieve {

// Length of the streak, in pixels, of something that crosses the view: (v / d) f t / p (small angles; thin
// lens). speed in m/s across the line of sight, or what panning leaves of it; distance in m; focal length in
// mm; exposure in s; pitch in micrometres. All > 0.
double expected_motion_px(double speed_m_s, double distance_m, double focal_mm, double exposure_s,
                          double pitch_um);

// What a streak of `px` full-size pixels says about speed across the view. Each is absent when the file does
// not say enough: the exposure for the first, focal length and pixel pitch besides for the others. The bird's
// own speed stays unknown: its distance is.
struct ImpliedSpeed {
  std::optional<double> px_per_s;
  std::optional<double> degrees_per_s;
  std::optional<double> px_per_degree_per_s;  // streak that this exposure draws at 1 degree/s
};
ImpliedSpeed implied_speed(const Capture& capture, double px);

}  // namespace burstsieve
