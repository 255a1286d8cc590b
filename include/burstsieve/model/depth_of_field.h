// The optics of focus: what is sharp before and behind the plane of focus, and how far off it a blur stands.
// Thin lens, small angles, no diffraction; distances in metres from the lens. Cameras state them from the
// sensor, which is a focal length or so more: nothing at the distances of birds. Plain numbers; std only.
//
// What counts as sharp is a choice, the circle of confusion. Two are offered: two pixel pitches, for a
// verdict at 100 % (that disc has a sigma of half a pixel, and adds a fifth to the blur of a sharp frame of
// .8 px); and the format's diagonal / 1500, the classic one for a picture that is looked at as a whole (.029
// mm on 24 x 36; trade practice, from memory).
#pragma once
#include <optional>
#include <string>

#include "burstsieve/model/capture.h"

namespace burstsieve {

struct Lens {
  double focal_mm = 0;  // > 0
  double f_number = 0;  // > 0
};

// H = f^2 / (N c) + f: focused there, infinity is just sharp.
double hyperfocal_m(const Lens& lens, double circle_um);

struct DepthOfField {
  double near_m = 0;
  std::optional<double> far_m;  // nothing: to infinity
};
// near = s (H - f) / (H + s - 2 f), far = s (H - f) / (H - s). Nothing where a number is not positive and
// finite, or the distance is within the focal length.
std::optional<DepthOfField> depth_of_field(const Lens& lens, double circle_um, double distance_m);

// Diameter, in full-size pixels, of the disc that a point at `object_m` (infinity allowed) draws when the
// lens is focused at `focus_m`: f^2 |d - s| / (N d (s - f)) over the pitch.
double blur_disc_px(const Lens& lens, double pitch_um, double focus_m, double object_m);

// The inverse: the two distances whose disc has this diameter. Nothing as depth_of_field().
struct OffFocus {
  double nearer_m = 0;
  std::optional<double> farther_m;  // nothing: not even infinity is as blurred
};
std::optional<OffFocus> off_focus(const Lens& lens, double pitch_um, double focus_m, double disc_px);

// The disc behind a measured blur: a disc of diameter D has a sigma of D / 4 along every axis, and adds to
// the blur of what is in focus (lens, pixel, demosaicking) as squares do. 0 where nothing is left. In
// full-size pixels. Wrong when the blur is motion.
double defocus_disc_px(double sigma_px, double sharp_sigma_px);

enum class InDepth { inside, outside, too_close_to_tell };
const char* name_of(InDepth where);

// Whether a subject lies within the depth of field, from its measured blur alone: for several subjects of
// one frame whose distances are unknown, and needs no lens data but the circle. sigma_px: its blur_sigma_px;
// sharp_sigma_px: that of what is surely in focus, the sharpest subject of the frame or of its burst;
// circle_px: 2, or the classic circle over the pitch. Too close to tell within the 10 % that the blur measure
// is good to (docs/measures.md), and where a number is not finite and positive.
InDepth inside_depth_of_field(double sigma_px, double sharp_sigma_px, double circle_px);

// All of it for one frame.
struct FrameDepth {
  std::string missing;  // what the file does not state; empty: everything below is known
  double distance_m = 0;
  double hyperfocal_m = 0;  // of the classic circle
  double classic_um = 0, pixels_um = 0;
  DepthOfField classic, pixels;
};
FrameDepth depth_of(const Capture& capture);

}  // namespace burstsieve
