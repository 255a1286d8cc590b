#include "burstsieve/model/depth_of_field.h"

#include <cmath>
#include <limits>

namespace burstsieve {
namespace {

bool positive(double v) {
  return std::isfinite(v) && v > 0;
}

bool sensible(const Lens& lens, double distance_m) {
  return positive(lens.focal_mm) && positive(lens.f_number) && positive(distance_m) &&
         distance_m > lens.focal_mm / 1000;
}

// What the blur measure is good to.
constexpr double kBlurError = .1;
constexpr double kPixelsPerCircle = 2;
constexpr double kCirclesPerDiagonal = 1500;
constexpr double kSmallestDiagonalUm = 4000;  // the smallest cameras have 5 mm and more

}  // namespace

double hyperfocal_m(const Lens& lens, double circle_um) {
  const double mm = lens.focal_mm * lens.focal_mm / (lens.f_number * circle_um / 1000) + lens.focal_mm;
  return mm / 1000;
}

std::optional<DepthOfField> depth_of_field(const Lens& lens, double circle_um, double distance_m) {
  if (!sensible(lens, distance_m) || !positive(circle_um)) return std::nullopt;
  const double h = hyperfocal_m(lens, circle_um), f = lens.focal_mm / 1000, s = distance_m;
  DepthOfField out{s * (h - f) / (h + s - 2 * f), {}};
  if (s < h) out.far_m = s * (h - f) / (h - s);
  return out;
}

double blur_disc_px(const Lens& lens, double pitch_um, double focus_m, double object_m) {
  const double f = lens.focal_mm / 1000;
  const double at_infinity_m = f * f / (lens.f_number * (focus_m - f));
  const double share = std::isinf(object_m) ? 1 : std::abs(object_m - focus_m) / object_m;
  return at_infinity_m * share / (pitch_um * 1e-6);
}

std::optional<OffFocus> off_focus(const Lens& lens, double pitch_um, double focus_m, double disc_px) {
  if (!sensible(lens, focus_m) || !positive(pitch_um) || !std::isfinite(disc_px) || disc_px < 0)
    return std::nullopt;
  const double share =
      disc_px / blur_disc_px(lens, pitch_um, focus_m, std::numeric_limits<double>::infinity());
  OffFocus out{focus_m / (1 + share), {}};
  if (share < 1) out.farther_m = focus_m / (1 - share);
  return out;
}

double defocus_disc_px(double sigma_px, double sharp_sigma_px) {
  const double left = sigma_px * sigma_px - sharp_sigma_px * sharp_sigma_px;
  return left > 0 ? 4 * std::sqrt(left) : 0;
}

const char* name_of(InDepth where) {
  if (where == InDepth::inside) return "inside the depth of field";
  return where == InDepth::outside ? "outside the depth of field" : "too close to tell";
}

InDepth inside_depth_of_field(double sigma_px, double sharp_sigma_px, double circle_px) {
  if (!positive(sigma_px) || !positive(sharp_sigma_px) || !positive(circle_px))
    return InDepth::too_close_to_tell;
  if (defocus_disc_px(sigma_px * (1 + kBlurError), sharp_sigma_px) <= circle_px) return InDepth::inside;
  if (defocus_disc_px(sigma_px * (1 - kBlurError), sharp_sigma_px) > circle_px) return InDepth::outside;
  return InDepth::too_close_to_tell;
}

FrameDepth depth_of(const Capture& c) {
  FrameDepth out;
  const auto need = [&](bool have, const char* what) {
    if (!have) out.missing += (out.missing.empty() ? "" : ", ") + std::string(what);
  };
  need(c.distance && positive(c.distance->metres), "focus distance");
  need(c.focal_mm && positive(*c.focal_mm), "focal length");
  need(c.f_number && positive(*c.f_number), "aperture");
  need(c.pixel_pitch_um && positive(*c.pixel_pitch_um) && c.width > 0 && c.height > 0, "pixel pitch");
  if (!out.missing.empty()) return out;
  const Lens lens{*c.focal_mm, *c.f_number};
  out.distance_m = c.distance->metres;
  out.pixels_um = kPixelsPerCircle * *c.pixel_pitch_um;
  out.classic_um = std::hypot(c.width, c.height) * *c.pixel_pitch_um / kCirclesPerDiagonal;
  // The pitch may be that of the original, and this its small copy.
  if (out.classic_um * kCirclesPerDiagonal < kSmallestDiagonalUm) {
    out.missing = "sensor size (its pixels are fewer than its resolution on the focal plane implies)";
    return out;
  }
  out.hyperfocal_m = hyperfocal_m(lens, out.classic_um);
  const auto classic = depth_of_field(lens, out.classic_um, out.distance_m);
  const auto pixels = depth_of_field(lens, out.pixels_um, out.distance_m);
  if (!classic || !pixels) {
    out.missing = "focus distance beyond the focal length";
    return out;
  }
  out.classic = *classic;
  out.pixels = *pixels;
  return out;
}

}  // namespace burstsieve
