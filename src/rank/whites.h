// When white plumage has lost its detail: the one rule behind fault, score and stars.
#pragma once
#include <algorithm>

#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

// Shares of the white plumage, 0..1; 0 where it was not measured. A white bird's feathers are neutral, so
// that two channels rebuild a third; what two channels lost is colour and most of the drawing.
struct ClippedWhites {
  double lost = 0;         // two channels clipped, or all
  double recoverable = 0;  // one channel clipped
  double penalty() const { return lost + recoverable / 4; }
};

inline ClippedWhites clipped_whites(const FrameFacts& facts) {
  const auto share = [&](const char* id) {
    const Measure* m = find(facts.measures, id);
    return m ? m->value : 0.0;
  };
  if (find(facts.measures, "white_gone"))
    return {share("white_gone") + share("white_partly"), share("white_recoverable")};
  // Per channel only: green and any other may be clipped in the same places, or not.
  const double lost =
      std::max(share("white_clipped_g"), std::min(share("white_clipped_r"), share("white_clipped_b")));
  return {lost, 0};
}

}  // namespace burstsieve::rank
