// The focus-energy map that two finders share: where the frame holds more fine detail than noise and backdrop
// explain.
#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/model/region.h"

namespace burstsieve::subject {

// CV_32F, at most 96 cells wide, 0..1 (1 = the strongest place), from an upright activity map.
cv::Mat energy_map(const cv::Mat& activity);

struct Blob {
  Region box;
  double weight = 0;    // sum of the map inside
  double solidity = 0;  // share of the frame's whole weight, 0..1
  cv::Point2d peak;     // normalised place of its strongest cell
};

// Connected places of `map` above `threshold`, heaviest first.
std::vector<Blob> blobs(const cv::Mat& map, double threshold);

}  // namespace burstsieve::subject
