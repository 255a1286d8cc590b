// From scored places to facts about a picture and about a burst; find_head() and tools/heads share it.
#pragma once
#include <vector>

#include "burstsieve/subject/head.h"
#include "head_weights.h"

namespace burstsieve::subject {

// The places of one picture, best first, and what the frame's two models ask.
struct HeadSearch {
  bool looked = false;
  std::vector<HeadPlace> places;
  FrameFactsOfHead facts{};
};
HeadSearch search_head(const HeadInput& input, const HeadScorer& scorer);

// What the other frames say about frame `i`; nothing where fewer than two of them hold a trusted head.
struct FrameInBurst {
  bool known = false;
  BurstFactsOfHead visible{}, hidden{};
};
FrameInBurst in_burst(const std::vector<HeadEvidence>& all, std::size_t i);

}  // namespace burstsieve::subject
