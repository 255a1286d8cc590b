// Gradient energy that noise alone has, over brightness.
#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/measure/noise_line.h"

namespace burstsieve::measure {

// Least squares; neither slope nor offset is ever negative. No points: zero.
NoiseLine fit_line(const std::vector<double>& mean, const std::vector<double>& energy);

// What is noise of the mean squared gradient of a quiet tile at kFineScale and kCoarseScale. A frame that is
// texture from edge to edge (grass, gravel) has no quiet tile, and its texture must not pass for noise. Two
// things tell them apart:
// - the ratio of the scales. White noise falls with the fourth power, 16 : 1; noise correlated by
// demosaicking
//   and JPEG compression less, down to about 6 : 1; edges at most 4 : 1 and commonly 2.5 : 1;
// - the finest grain: texture blurred by a pixel or more has next to nothing at the highest frequencies, so
//   white noise of that variance is there at least.
struct NoiseEnergy {
  double fine = 0, coarse = 0;
};
NoiseEnergy without_texture(double fine, double coarse, double white_variance);

// Variance of white noise with as much energy in the second difference along both axes, which has 36 times
// its variance, as `image` (CV_32F) has inside `inner`. Noise correlated between neighbours reads lower.
double white_variance(const cv::Mat& image, const cv::Rect& inner);

// A small square of the picture: mean squared gradients at both scales, white_variance.
inline constexpr int kGrainCell = 16;  // px
struct GrainCell {
  double fine = 0, coarse = 0, white = 0;
};

// How many times more energy the noise of this picture has at the fine scale than white noise of as much
// finest grain: 1 for white noise, 5 to 30 after demosaicing. Read from the cells that have least for their
// grain, which are those with least texture; 1 when even they look like texture, or when there are fewer than
// 40 cells.
double noise_colour(std::vector<GrainCell> cells);

}  // namespace burstsieve::measure
