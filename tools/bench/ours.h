// Our path of one frame, by the very stages that the pipeline runs.
#pragma once
#include <cstddef>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/pipeline/frame_work.h"

namespace burstsieve::bench {

struct FrameCost {
  int width = 0, height = 0;  // decoded, upright
  std::size_t measures = 0;   // how many numbers came out, so that nothing is optimised away
  double metadata = 0;        // CPU ms: EXIF and maker notes
  double decode = 0;          // the one decode, 1/8 image, activity map, glance
  double measure = 0;         // subject, every measure, pose picture, thumbnail
  double highlights = 0;  // raw mosaic under the subject; only for raws, and only for frames in contention
  double detector = 0;    // the subject detector on the picture it gets; 0 without one. Not in total()
  double total() const { return metadata + decode + measure; }
};

// Everything that is done for every frame of a burst; `trail` carries the frame before. `contender`: with the
// mosaic, too. `detectors`: may be null.
Result<FrameCost> run_frame_path(const FileRef& file, pipeline::Trail& trail, bool contender,
                                 const Limits& limits, subject::DetectorPool* detectors = nullptr);

}  // namespace burstsieve::bench
