// The streak that explains a spectrum, and the edges where they were seen, best.
#pragma once
#include "edge_streak.h"
#include "streak_bars.h"

namespace burstsieve::measure {

struct Found {
  Candidate bars;       // at the best length and angle
  double envelope = 0;  // gain of the best envelope near it
  double edges = 0;     // log likelihood of the edge widths with this streak less that without one
};

// edges: widths of edges by direction of the sensor's layout, empty where there are none.
Found search(const Points& p, const EdgeWidths& edges, double longest);

}  // namespace burstsieve::measure
