// truth.json: what is known about every frame, for tests and the bench to be held against.
#pragma once
#include <string>
#include <vector>

#include "frame.h"
#include "plan.h"

namespace burstsieve::generate {

struct BurstTruth {
  std::string name, camera;  // "make model #serial"
  bool raw = false;          // white_clipped and headroom_ev speak of the mosaic; else of the JPEG
  std::vector<FrameTruth> frames;
};

// Pretty-printed; numbers rounded to what they mean.
std::string truth_json(const std::string& set, std::uint64_t seed, const std::vector<BurstTruth>& bursts);

}  // namespace burstsieve::generate
