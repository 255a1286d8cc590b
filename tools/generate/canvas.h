// Painter's-order rasteriser for the two things a bird is made of: feathers and tapered strokes. Edges are
// antialiased analytically by their distance in pixels (the footprint of one sample is a unit box).
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

#include "geometry.h"

namespace burstsieve::generate {

// What a sample belongs to; the last thing painted over it wins.
enum class Part : std::uint8_t { none, body, head, eye, bill, near_wing, far_wing, leg };

// A flat feather seen in perspective-free projection: an affine image of a leaf shape.
struct Feather {
  V2 base, axis;                // pixels: root, and the vector from root to tip
  V2 across;                    // pixels: half-width vector
  double length = 0, half = 0;  // bird units, unprojected: they scale the barbs
  double curve = 0;             // sideways bend of the tip in half-widths
  double round_from = .7;       // 0..1: where the tip starts to round off; small = pointed
  V3 light_base, light_tip;     // irradiance
  V3 colour, tip_colour;        // reflectance
  double tip_from = 2;          // 0..1 along the feather where tip_colour starts; > 1 never
  double barb_contrast = .1;    // relative amplitude of the barb texture per octave
  double shadow = .3;           // 0..1: how dark the gap beside the feather is
  double root_shade = .80;      // 0..1: how dark the root is under its neighbours; 1 not at all
  std::uint32_t seed = 0;
  Part part = Part::body;
};

struct StrokePoint {
  V2 at;
  double radius;  // pixels
  V3 colour;
};

// Lit round stroke through the points.
struct Stroke {
  std::vector<StrokePoint> points;
  double sheen = 0;    // specular strength, 0 matt .. 1 glossy
  double texture = 0;  // relative amplitude of surface mottle
  std::uint32_t seed = 0;
  Part part = Part::body;
};

// Irradiance (a white reflector's radiance) for a unit normal in camera space: sun from the upper left, blue
// sky above, light from water and mud below. At most about 1.
V3 irradiance(V3 normal);

class Canvas {
 public:
  // `px_per_unit`: samples per bird unit, sets how many octaves of barbs fit below Nyquist.
  Canvas(cv::Rect area, double px_per_unit);

  void paint(const Feather& feather);
  void paint(const Stroke& stroke);
  // A filled disc, blended with `alpha`; for eyes and catchlights.
  void disc(V2 at, double radius_x, double radius_y, V3 radiance, double alpha, Part part);

  const cv::Rect& area() const { return area_; }
  const cv::Mat4f& colour() const { return colour_; }  // premultiplied radiance and coverage
  const cv::Mat1f& white() const { return white_; }    // coverage by near-white plumage, 0..1
  const cv::Mat1b& parts() const { return parts_; }

 private:
  void blend(int x, int y, V3 radiance, double alpha, double white, Part part);

  cv::Rect area_;
  double px_per_unit_;
  cv::Mat4f colour_;
  cv::Mat1f white_;
  cv::Mat1b parts_;
};

}  // namespace burstsieve::generate
