#include "head_weights.h"

namespace burstsieve::subject {

const HeadWeights& head_weights() {
  static const HeadWeights weights{{std::vector<float>(kLookFeatures), std::vector<float>(kLookFeatures), {}, std::vector<float>(kLookFeatures + 1)}, {}, {}, {}, {}};
  return weights;
}

}  // namespace burstsieve::subject
