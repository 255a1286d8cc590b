// What tools/heads fitted.
#pragma once
#include <array>

#include "head_scorer.h"

namespace burstsieve::subject {

// Of the whole picture: FrameLook's facts, then the bias.
inline constexpr std::size_t kFrameFacts = 11;
using FrameFactsOfHead = std::array<double, kFrameFacts>;
// Of the burst: as burst_facts() gives them, then the bias.
inline constexpr std::size_t kBurstFacts = 6;
using BurstFactsOfHead = std::array<double, kBurstFacts>;

struct HeadWeights {
  HeadScorer scorer;
  std::array<double, kFrameFacts + 1> visible{}, hidden{};
  std::array<double, kBurstFacts + 1> visible_in_burst{}, hidden_in_burst{};
};
const HeadWeights& head_weights();

template <std::size_t N>
double log_odds(const std::array<double, N>& facts, const std::array<double, N + 1>& weights) {
  double sum = weights[N];
  for (std::size_t i = 0; i < N; ++i) sum += weights[i] * facts[i];
  return sum;
}

}  // namespace burstsieve::subject
