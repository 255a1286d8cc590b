// The outline of an animal in its box: a minimum cut through a small picture of it (GrabCut: Rother,
// Kolmogorov, Blake, SIGGRAPH 2004; from memory).
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::subject {

// From this confidence on a mask is better than the place of the detail (docs/subject.md).
inline constexpr double kTrustedMask = .5;

// The animal in `box` (upright), on a grid of at most 128 cells over the box and a fifth of its longer side
// around it. What is outside the box shows how the background looks, in colour (CIE L*a*b*) and texture; what
// it does not explain inside is the animal; both are learnt again from the division that follows, twice.
// Holes are filled. Empty when nothing can be told: a black or white frame, a box without surroundings or of
// a few pixels. The mask's confidence, 0..1: how often such a mask overlaps the animal by .7 or more.
// activity: image::activity_map(planes.luma). About 10 ms. Blind to: an animal that looks like what is behind
// it; what stands on both sides of the box's rim, such as a reed; a second animal in the box.
CellMask cut_out(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                 const Region& box);

// The same where it is to be trusted, else where the detail in the box is (energy_map.h).
CellMask outline_of(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                    const cv::Mat& energy, const Region& box);

}  // namespace burstsieve::subject
