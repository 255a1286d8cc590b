// Numbered test cases of known blur over everything that makes an answer doubtful: few edges, low contrast,
// small regions, no quiet place, noise, JPEG, demosaicing.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <string>

#include "burstsieve/model/region.h"

namespace burstsieve::compare {

struct Case {
  cv::Mat luma;      // CV_8U, sRGB curve
  Region region;     // what is measured, upright = as stored
  double sigma = 0;  // px, .5..5; what demosaicing blurs is counted in (docs/measures.md)
  double noise = 0;  // at .3 of the clip; 0..8 %
  std::string what;  // target and rendering in words
};

// The same number gives the same case. Numbers below kFirstHeldOut are for tuning, those from it on for
// judging. About 50 ms each.
inline constexpr std::uint64_t kFirstHeldOut = 1'000'000;
Case blur_case(std::uint64_t number);

}  // namespace burstsieve::compare
