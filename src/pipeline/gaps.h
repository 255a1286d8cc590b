// Frames of a measured burst in which no animal was seen though their neighbours show one.
#pragma once
#include <cstddef>
#include <vector>

#include "burstsieve/model/measure.h"

namespace burstsieve::pipeline {

struct Gap {
  std::size_t frame = 0;
  Region place;  // amid those of the neighbours, wide enough for both; or the only neighbour's
};

// True when the first subject was seen by the detector, in this frame or followed from another.
bool seen_by_detector(const FrameFacts& facts);

// In order; at most one frame in eight, for each costs a second decode: those between two sightings first,
// then those beside one at either end of what was seen. Depends on nothing but the facts.
std::vector<Gap> gaps_of(const std::vector<FrameFacts>& frames);

}  // namespace burstsieve::pipeline
