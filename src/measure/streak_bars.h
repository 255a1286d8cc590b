// The bars that uniform motion draws in a spectrum, and how well they match one.
#pragma once
#include "streak_points.h"

namespace burstsieve::measure {

// How much of the bars' depth survives the width of the window and the mean of neighbours:
// cos(2 pi L s) under a Gaussian kernel.
double crispness(const Points& p, double length);

// Power that a streak leaves at x = L s. crisp: 1 for black bars, 0 for their envelope alone.
float transfer(float x, float crisp);

// Its logarithm over the noise floor, less its ring's mean, at every point.
Floats pattern(const Points& p, double length, double angle, double crisp);

struct Candidate {
  double length = 0, angle = 0;  // px; radians in the sensor's layout, y down
  double gain = -1e30;           // fall of the squared error against no streak
  double amplitude = 0;
};

// Weighted square of a pattern beyond what the harmonics explain, and its product with the data.
struct Match {
  double square = 0, product = 0;
};
Match match(const Points& p, const Floats& t);

// envelope: without the bars, as a texture of lines would look.
Candidate judged(const Points& p, double length, double angle, bool envelope);

}  // namespace burstsieve::measure
