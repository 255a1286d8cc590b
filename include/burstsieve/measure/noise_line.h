// Gradient energy that noise alone has, over brightness.
#pragma once
#include <array>

namespace burstsieve::measure {

// A line over the mean brightness: shot noise grows with the light (variance = S x + O, DNG 1.6
// NoiseProfile), read noise does not.
struct NoiseLine {
  double slope = 0, offset = 0;
  double at(double mean) const;  // >= 0
};

// Of the gradients at both scales (measure/detail.h), per level of the pyramid.
struct NoiseFloor {
  NoiseLine fine, coarse;
};

}  // namespace burstsieve::measure
