// The one convention for places in a frame.
//
// Pixel (0,0) is the corner of the first pixel; its centre is (.5,.5). Frames are upright: the EXIF
// orientation has been applied. A Region is normalised: 0..1 of the upright full-size frame, x to the right,
// y down.
#pragma once

namespace burstsieve {

struct Region {
  double x = 0;  // left edge, 0..1
  double y = 0;  // top edge, 0..1
  double w = 0;  // width, 0..1
  double h = 0;  // height, 0..1

  double right() const { return x + w; }
  double bottom() const { return y + h; }
  double centre_x() const { return x + w / 2; }
  double centre_y() const { return y + h / 2; }
  double area() const { return w > 0 && h > 0 ? w * h : 0; }
  bool empty() const { return !(w > 0 && h > 0); }
  bool operator==(const Region&) const = default;
};

// The part of `r` inside the frame; empty when there is none.
Region clamped(const Region& r);
// `r` grown by `factor` (> 1 grows) about its centre, then clamped.
Region grown(const Region& r, double factor);
// Intersection over union, 0..1; 0 when either is empty.
double overlap(const Region& a, const Region& b);
// Share of `part`'s area that lies in `whole`, 0..1; 0 when either is empty.
double share_inside(const Region& part, const Region& whole);

// `r`, given in the sensor's own layout, as seen in the upright frame. orientation: EXIF 1..8 (Exif 2.32
// §4.6.4-A, tag 0x0112); any other value counts as 1.
Region upright(const Region& r, int orientation);
// The inverse of upright().
Region as_sensor(const Region& r, int orientation);
// True when the orientation swaps width and height (5..8).
bool swaps_sides(int orientation);

}  // namespace burstsieve
