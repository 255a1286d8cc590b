// How far a streak that was found is believed: raw evidence to probabilities.
#pragma once
#include "burstsieve/measure/streak.h"

namespace burstsieve::measure {

struct Evidence {
  double length = 0;                                                              // px
  double share = 0, bars = 0, amplitude = 0, reach = 0, edges = 0, softness = 0;  // see Streak
  double edge_blur = 0;  // px, of the region's edges, times its confidence
};

struct Belief {
  double streaked = 0;  // probability that there is a streak of 3 px or more
  double right = 0;     // that the length is within 1.5 px or 10 % and the direction within 4 degrees
};

Belief believed(const Evidence& e);

}  // namespace burstsieve::measure
