#include "burstsieve/model/motion_blur.h"

#include <cmath>
#include <numbers>

namespace burstsieve {

double expected_motion_px(double speed_m_s, double distance_m, double focal_mm, double exposure_s,
                          double pitch_um) {
  return speed_m_s / distance_m * focal_mm * exposure_s / (pitch_um / 1000);
}

ImpliedSpeed implied_speed(const Capture& capture, double px) {
  ImpliedSpeed out;
  if (!capture.exposure_s || !(*capture.exposure_s > 0) || !std::isfinite(px) || px < 0) return out;
  out.px_per_s = px / *capture.exposure_s;
  if (!capture.focal_mm || !capture.pixel_pitch_um || !(*capture.focal_mm > 0) ||
      !(*capture.pixel_pitch_um > 0))
    return out;
  const double pixels_per_degree =
      std::numbers::pi / 180 * *capture.focal_mm / (*capture.pixel_pitch_um / 1000);
  out.degrees_per_s = *out.px_per_s / pixels_per_degree;
  out.px_per_degree_per_s = pixels_per_degree * *capture.exposure_s;
  return out;
}

}  // namespace burstsieve
