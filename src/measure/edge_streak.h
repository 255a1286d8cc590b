// A short streak seen in the widths of free-standing edges, direction by direction.
#pragma once
#include "burstsieve/measure/detail.h"

namespace burstsieve::measure {

// Uniform motion over L px along an angle a widens an edge whose gradient lies along t:
//     sigma^2(t) = s0^2 + (L^2 / 12) cos^2(t - a)
struct EdgeStreak {
  double length = 0;   // px
  double degrees = 0;  // (-90, 90], upright frame, 0 = horizontal, counter-clockwise
  double across = 0;   // s0, px
  double swing = 0;    // L^2 / 12, px^2
  double error = 0;    // standard deviation of the swing, px^2, from the edges' number and their scatter
  int directions = 0;  // of kDirections that had edges; 0: nothing could be told
};

// Natural edges of one frame differ in width by their own: a swing of some two errors is chance. Reads
// lengths above 8 px short (the profile's core is no longer the whole of it).
EdgeStreak edge_streak(const Detail& detail);

// Squared misfit of another streak, in the error of one edge width, freed of the best fit's.
}  // namespace burstsieve::measure
