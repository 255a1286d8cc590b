// Where a frame holds fine detail: one cheap pass over the full-size luma that every later stage draws on.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::image {

// Side of one activity cell in pixels.
inline constexpr int kActivityCell = 16;

// luma: CV_8U, any layout. Returns CV_32F, ceil(rows/16) x ceil(cols/16): the mean of (dx^2 + dy^2) over the
// first differences inside each cell, in squared 8-bit levels, >= 0. Every second row is read: detail that
// matters here is wider than one row and the pass is bound by memory. Empty input gives an empty map. Blind
// to: whether the detail is the animal's; noise counts too (see quiet_level()).
cv::Mat activity_map(const cv::Mat& luma);

// The activity that noise alone causes: the 10th percentile of the map's cells that are neither clipped flat
// (0) nor textured. 0 for an empty map.
double quiet_level(const cv::Mat& activity);

}  // namespace burstsieve::image
