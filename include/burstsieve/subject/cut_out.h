// The outline of an animal in its box: a minimum cut through a small picture of it.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::subject {

struct CutOut {
  CellMask mask;          // of the box and a rim around it; empty when nothing could be cut out
  double confidence = 0;  // 0..1 that the mask overlaps the animal by .7 or more (docs/subject.md)
};

CutOut cut_out(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity, const Region& box);

}  // namespace burstsieve::subject
