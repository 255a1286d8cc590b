// The cheapest division of a picture's cells into animal and background.
#pragma once
#include <opencv2/core.hpp>

#include "look_model.h"

namespace burstsieve::subject {

// Neighbours that look alike are dear to part: w = strength (.08 + .92 exp(-d^2 / 2 mean d^2)) / distance,
// over eight neighbours (Boykov and Jolly, "Interactive graph cuts", ICCV 2001; GrabCut, SIGGRAPH 2004; both
// from memory). The division is the minimum cut, found by OpenCV's max-flow (after Boykov and Kolmogorov,
// PAMI 26(9) 2004; from memory), and is the same for the same input.
class GraphCut {
 public:
  // open: cells to be decided, not 0; the others are background.
  GraphCut(const cv::Mat_<Look>& looks, const cv::Mat1b& open);
  // odds: log odds of each cell to be animal. Returns 1 for animal, 0 for background.
  cv::Mat1b divide(const cv::Mat1f& odds) const;
  // How unlike the cells on both sides of the mask's outline are: 0 alike, 1 another thing.
  double contrast(const cv::Mat1b& mask) const;

 private:
  // Of each cell with the next to the right, below, right below and left below; strength left out.
  cv::Mat_<cv::Vec4f> links_;
  cv::Mat1i node_;  // -1: not open
  int nodes_ = 0;
};

}  // namespace burstsieve::subject
