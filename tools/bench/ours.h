// Our path of one frame, as the pipeline runs it.
#pragma once
#include <cstdint>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/region.h"

namespace burstsieve::bench {

struct FrameWork {
  double full_per_pixel = 1;
  int width = 0, height = 0;   // decoded, upright
  std::uint64_t checksum = 0;  // of what was made, so that nothing is optimised away
};

// Everything that is done for every frame: read, decode, 1/8 image, crop of the subject, thumbnail. The one
// place to plug further per-frame work in. `subject`: upright, normalised.
Result<FrameWork> run_frame_path(const FileRef& file, int orientation, const Region& subject,
                                 const Limits& limits);

// Where the time of one frame goes, CPU ms.
struct FrameSplit {
  double decode = 0, eighth = 0, crop = 0, thumbnail = 0;
};
Result<FrameSplit> split_frame_path(const FileRef& file, int orientation, const Region& subject,
                                    const Limits& limits);

}  // namespace burstsieve::bench
