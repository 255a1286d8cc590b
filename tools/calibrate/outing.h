// Generated bursts through the whole engine, frame by frame.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "reliability.h"

namespace burstsieve::calibrate {

struct OutingOptions {
  int bursts = 200;  // of the season set; a quarter as many of the depth set and of the several set
  std::uint64_t seed = 1;
  int threads = 1;
};

// Renders the season set, in every other burst with its faults spread evenly over their range, and the
// depth and several sets, with renderings of many cameras (gain 0 to .8 EV, contrast 0 to .4, JPEG
// quality 80 to 95; three full colour
// planes, so that the stated blur is the picture's), writes each frame below `folder`, measures it as the
// engine does, every raw's mosaic included, and removes it. The samples do not depend on `threads`.
Result<std::vector<Sample>> samples_of_outing(const OutingOptions& options, const std::string& folder,
                                              const std::function<void(std::size_t, std::size_t)>& progress);

}  // namespace burstsieve::calibrate
