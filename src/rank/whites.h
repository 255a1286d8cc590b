// When white plumage has lost its detail: the one rule behind fault, score and stars.
#pragma once
#include <algorithm>

#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

// Share of the white plumage whose detail is gone for good: green is clipped, or two channels are; a single
// red or blue can be rebuilt. 0 where it was not measured.
inline double lost_whites(const FrameFacts& facts) {
  const auto clipped = [&](const char* id) {
    const Measure* m = find(facts.measures, id);
    return m ? m->value : 0.0;
  };
  return std::max(clipped("white_clipped_g"),
                  std::min(clipped("white_clipped_r"), clipped("white_clipped_b")));
}

}  // namespace burstsieve::rank
