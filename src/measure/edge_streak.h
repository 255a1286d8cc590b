// What the widths of free-standing edges say of a streak, direction by direction: below some 5 px, and in
// noise, they know more than the spectrum's bars, which have gone under.
//
// Uniform motion over L px along an angle a widens an edge whose gradient lies along t:
//     sigma^2(t) = s0^2 + (L^2 / 12) cos^2(t - a)
#pragma once
#include <vector>

#include "burstsieve/measure/detail.h"

namespace burstsieve::measure {

struct EdgeWidth {
  double angle = 0;      // of the gradient, radians in the sensor's layout, y down
  double variance = 0;   // px^2
  double log_width = 0;  // logarithm of the variance, with the filter's own, up to where widths saturate
  double error = 0;      // of that
};
// Of the directions that have edges, at most kDirections.
using EdgeWidths = std::vector<EdgeWidth>;
EdgeWidths edge_widths(const Detail& detail, int orientation);

// Least squares over all directions; length 0: fewer than five of them, or no difference.
struct EdgeStreak {
  double length = 0, angle = 0;  // px; radians in the sensor's layout, y down
};
EdgeStreak edge_streak(const EdgeWidths& widths);

// Natural logarithm, at the best s0, up to a constant. length 0: no streak.
double log_likelihood(const EdgeWidths& widths, double length, double angle);

// Angles between the sensor's layout (radians, y down) and the upright frame (degrees (-90, 90],
// counter-clockwise).
double upright_degrees(double angle, int orientation);
double sensor_angle(double degrees, int orientation);

}  // namespace burstsieve::measure
