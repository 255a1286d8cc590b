// What looking for the animal costs over a burst: some frames are searched, most are followed.
#pragma once
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::subject {
class DetectorPool;
}

namespace burstsieve::bench {

struct BurstCost {
  double decode_ms = 0;  // CPU per frame: the one decode and what is cut from it, without the detector
  double all_ms = 0;     // CPU per frame of the whole path, without it
  double added_ms = 0;   // what the detector, the second looks and the following add to that
};

// The files in their order as one burst, one thread, by the stages of a run; each frame with and without the
// detector, so that a change of the machine's pace hits both. Frames looked at twice because their neighbours
// show an animal (pipeline/gaps.h) are not in it. Error: of a file.
Result<BurstCost> burst_cost(const std::vector<FileRef>& files, subject::DetectorPool& detectors);

}  // namespace burstsieve::bench
