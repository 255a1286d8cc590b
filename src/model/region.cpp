#include "burstsieve/model/region.h"

#include <algorithm>

namespace burstsieve {

Region clamped(const Region& r) {
  const double x0 = std::clamp(r.x, 0.0, 1.0);
  const double y0 = std::clamp(r.y, 0.0, 1.0);
  const double x1 = std::clamp(r.right(), 0.0, 1.0);
  const double y1 = std::clamp(r.bottom(), 0.0, 1.0);
  if (!(x1 > x0 && y1 > y0)) return {};
  return {x0, y0, x1 - x0, y1 - y0};
}

Region grown(const Region& r, double factor) {
  const double w = r.w * factor;
  const double h = r.h * factor;
  return clamped({r.centre_x() - w / 2, r.centre_y() - h / 2, w, h});
}

double overlap(const Region& a, const Region& b) {
  const double w = std::min(a.right(), b.right()) - std::max(a.x, b.x);
  const double h = std::min(a.bottom(), b.bottom()) - std::max(a.y, b.y);
  if (!(w > 0 && h > 0)) return 0;
  const double both = w * h;
  return both / (a.area() + b.area() - both);
}

double share_inside(const Region& part, const Region& whole) {
  const double w = std::min(part.right(), whole.right()) - std::max(part.x, whole.x);
  const double h = std::min(part.bottom(), whole.bottom()) - std::max(part.y, whole.y);
  return part.area() > 0 && w > 0 && h > 0 ? w * h / part.area() : 0;
}

bool swaps_sides(int orientation) {
  return orientation >= 5 && orientation <= 8;
}

Region upright(const Region& r, int orientation) {
  const double fx = 1 - r.right();  // x after a left-right flip
  const double fy = 1 - r.bottom();
  switch (orientation) {
    case 2:
      return {fx, r.y, r.w, r.h};
    case 3:
      return {fx, fy, r.w, r.h};
    case 4:
      return {r.x, fy, r.w, r.h};
    case 5:  // transpose
      return {r.y, r.x, r.h, r.w};
    case 6:  // turn 90 degrees clockwise to view
      return {fy, r.x, r.h, r.w};
    case 7:  // transverse
      return {fy, fx, r.h, r.w};
    case 8:  // turn 90 degrees counter-clockwise to view
      return {r.y, fx, r.h, r.w};
    default:
      return r;
  }
}

Region as_sensor(const Region& r, int orientation) {
  // All orientations are their own inverse but the two quarter turns, which are each other's.
  if (orientation == 6) return upright(r, 8);
  if (orientation == 8) return upright(r, 6);
  return upright(r, orientation);
}

}  // namespace burstsieve
