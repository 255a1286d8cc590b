// Natural textures and photographs of known blur and motion, measured in their true place.
#pragma once
#include <vector>

#include "outing.h"

namespace burstsieve::calibrate {

// Two motion cases (tests/measure/motion_cases.h) and two blur cases (tools/compare/cases.h) for every burst
// of the options. Seeds below 100 take the tuning sets, others the held-out ones: no texture in common.
// Photographs take part where tools/test-data.sh has fetched them.
std::vector<Sample> samples_of_crops(const OutingOptions& options);

}  // namespace burstsieve::calibrate
