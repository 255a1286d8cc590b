// Fits the scorer of places, and logistic models of few facts.
#pragma once
#include <cstdint>
#include <vector>

#include "head_scorer.h"

namespace burstsieve::heads {

struct Example {
  subject::LookFeatures x;
  bool head = false;
  float weight = 1;
};

// Weighted logistic loss by Adam over `epochs`; `units` 0: plain logistic regression. The same examples and
// seed give the same weights.
subject::HeadScorer learn(const std::vector<Example>& examples, std::size_t units, int epochs, float decay,
                          std::uint64_t seed);

// Facts, and whether it is so.
struct Observation {
  std::vector<double> x;
  bool yes = false;
  double weight = 1;
};
// Logistic regression by Newton's method with a slight ridge; weights of the facts, then the bias.
std::vector<double> logistic(const std::vector<Observation>& lines);

}  // namespace burstsieve::heads
