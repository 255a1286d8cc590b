// From a JPEG file to a sample, as the program would get at it.
#pragma once
#include <optional>

#include "sample.h"

namespace burstsieve::heads {

// Decodes `path`; the box is the finders' where it overlaps `truth` by half, else `truth` itself, shaken a
// little. `full_mask`: CV_8U of the upright frame's size. Nothing when it can't be decoded.
std::optional<Sample> looked_at(const std::string& path, const Region& truth, const cv::Mat& full_mask,
                                subject::DetectorPool* detectors, std::uint64_t seed);

}  // namespace burstsieve::heads
