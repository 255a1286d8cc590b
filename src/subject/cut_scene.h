// The small picture of an animal's surroundings that its outline is cut from.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/decode/pixels.h"
#include "look_model.h"

namespace burstsieve::subject {

// Cells along the longer side of the picture.
inline constexpr int kCutSide = 128;

struct CutScene {
  cv::Mat_<Look> looks;  // empty: there is nothing to see
  cv::Rect2d box;        // the animal's, in cells
  Region where;          // what the picture shows of the upright frame
};

// activity: image::activity_map(planes.luma). The picture shows the box and a fifth of its longer side around
// it; from `eighth` where that has cells enough, from the planes for a small animal.
CutScene cut_scene(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                   const Region& box);

}  // namespace burstsieve::subject
