// Gradient energy that noise alone has, over brightness.
#pragma once
#include <vector>

namespace burstsieve::measure {

// A line over the mean brightness: shot noise grows with the light (variance = S x + O, DNG 1.6
// NoiseProfile), read noise does not.
struct NoiseLine {
  double slope = 0, offset = 0;
  double at(double mean) const;  // >= 0
};

// Least squares; neither slope nor offset is ever negative. No points: zero.
NoiseLine fit_line(const std::vector<double>& mean, const std::vector<double>& energy);

// What is noise of the mean squared gradient of a quiet tile at kFineScale and kCoarseScale. White noise
// falls with the fourth power of the scale, 16 : 1; noise correlated by demosaicking and JPEG compression
// less, down to about 6 : 1; edges at most 4 : 1 and commonly 2.5 : 1. A frame that is texture from edge to
// edge (grass, gravel) has no quiet tile, and its texture must not pass for noise: the ratio tells.
struct NoiseEnergy {
  double fine = 0, coarse = 0;
};
NoiseEnergy without_texture(double fine, double coarse);

}  // namespace burstsieve::measure
