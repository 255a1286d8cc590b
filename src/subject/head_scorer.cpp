#include "head_scorer.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::subject {

float HeadScorer::odds(const LookFeatures& f) const {
  std::array<float, kLookFeatures> x;
  for (std::size_t i = 0; i < x.size(); ++i) x[i] = std::clamp((f[i] - mean[i]) * scale[i], -4.0f, 4.0f);
  float sum = out.back();
  if (hidden.empty()) {
    for (std::size_t i = 0; i < x.size(); ++i) sum += out[i] * x[i];
    return sum;
  }
  for (std::size_t u = 0; u < hidden.size(); ++u) {
    const float* w = hidden[u].data();
    float a = w[x.size()];
    for (std::size_t i = 0; i < x.size(); ++i) a += w[i] * x[i];
    sum += out[u] * std::max(a, .1f * a);
  }
  return sum;
}

}  // namespace burstsieve::subject
