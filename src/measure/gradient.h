// Gaussian derivatives of a picture at one scale: shared by the files that read edges.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::measure {

// A unit ramp gives x or y exactly 1. energy = x^2 + y^2. CV_32F, same size as the picture.
struct Gradient {
  cv::Mat x, y, energy;
};

}  // namespace burstsieve::measure
