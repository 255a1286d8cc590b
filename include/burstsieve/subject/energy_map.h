// The focus-energy map that finders and mask share: where the frame holds more fine detail than noise and
// backdrop explain.
#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/model/measure.h"

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

struct StableBox {
  Region box;            // empty when no threshold gives one
  double stability = 0;  // 0..1: overlap of the boxes at neighbouring thresholds
};

// The box around (x, y) that changes least while the threshold rises from a tenth to a half of the strongest
// place: an animal's outline is steep, so its box holds still, while a blob leaking into the background does
// not (the idea of maximally stable regions: Matas et al., BMVC 2002; from memory).
StableBox stable_box(const cv::Mat& map, double x, double y);

// The cells of the animal in `box`: connected detail that reaches into the box, its holes filled (smooth or
// clipped plumage inside an outline has no detail of its own). Empty when the box holds no detail.
CellMask subject_mask(const cv::Mat& map, const Region& box);

}  // namespace burstsieve::subject
