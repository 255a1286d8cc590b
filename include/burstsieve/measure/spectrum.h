// The power spectrum of a region of any outline: what the search for streaks reads.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/model/measure.h"
#include "burstsieve/model/region.h"

namespace burstsieve::measure {

// The mean log power spectrum of a region's most detailed windows.
struct Spectrum {
  cv::Mat log_power;  // CV_32F, side x (side / 2 + 1): row = vertical frequency, column = horizontal
  double width = 0;   // px across which the windows look, the reciprocal of the spectrum's resolution
  int windows = 0;    // 0: nothing to see
  Region place;       // of the most detailed window, in the sensor's layout
};

// Where a region lies, as a weight 0..1 per activity cell (16 px) in the layout of the sensor, CV_32F.
// activity: image::activity_map(luma). box: upright. mask: the outline inside it; an ellipse when empty.
cv::Mat subject_cells(const cv::Mat& activity, int orientation, const Region& box, const CellMask& mask);
// Everything but the box and a margin around it.
cv::Mat background_cells(const cv::Mat& activity, int orientation, const Region& box);

// luma: CV_8U, sRGB curve; taken scene-linear. Looks at up to `windows` windows of 256 px (128 where the
// region is small), each faded out at its rim and at the region's. No windows: the region is smaller than
// 48 x 48 px or without any detail.
Spectrum spectrum_of(const cv::Mat& luma, const cv::Mat& activity, const cv::Mat& cells, int windows);

}  // namespace burstsieve::measure
