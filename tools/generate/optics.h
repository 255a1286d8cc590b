// Blur of a layer and its composition, in scene-linear light.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::generate {

// Weights of a straight streak `length_px` long at `angle_deg` (0 = horizontal, counter-clockwise positive as
// seen), antialiased, sum 1, odd sides. Variance along the streak is length^2/12.
cv::Mat1f streak_kernel(double length_px, double angle_deg);

// Gaussian of `sigma_px`, then the streak; either may be 0. The border repeats the edge.
void blur(cv::Mat& image, double sigma_px, double streak_px, double streak_deg);

// Variance of the pixel's own box, in px^2: every rendered sample is an area, not a point.
inline constexpr double pixel_box_variance = 1.0 / 12;

}  // namespace burstsieve::generate
