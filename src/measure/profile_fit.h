// Width of a bump that falls off as a Gaussian: the fit behind one edge and behind the sum of many.
#pragma once
#include <array>

#include "burstsieve/measure/edge_profile.h"

namespace burstsieve::measure {

using HalfProfile = std::array<double, kProfileReach + 1>;

// Variance S^2 of the Gaussian fitted to the core of `half` (distances 0, 1, 2 ... px), out to `core` times
// its own S: least squares of the logarithm, weighted with the squared value, which is the error a noise of
// constant size makes there. 0 when the profile is no bump. Two samples (S < 1 / core) still give an answer.
double core_variance(const HalfProfile& half, double core);

}  // namespace burstsieve::measure
