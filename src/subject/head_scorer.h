// How much a place looks like a head: a small net over the pattern of samples, fitted by tools/heads.
#pragma once
#include <cstddef>
#include <vector>

#include "head_look.h"

namespace burstsieve::subject {

struct HeadScorer {
  std::vector<float> mean, scale;          // of the features
  std::vector<std::vector<float>> hidden;  // per unit: weights of the features, then its bias
  std::vector<float> out;                  // per unit, then the bias; without units: of the features
  // Log odds that a head of that size is centred there, within half its radius.
  float odds(const LookFeatures& f) const;
};

}  // namespace burstsieve::subject
