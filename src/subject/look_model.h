// What a part of a picture looks like: a small mixture of Gaussians over colour and texture.
#pragma once
#include <array>
#include <cstddef>
#include <opencv2/core.hpp>
#include <vector>

namespace burstsieve::subject {

// CIE L*, a*, b* and a texture, all scaled so that 1 is a just visible step.
inline constexpr int kLookSize = 4;
using Look = cv::Vec<float, kLookSize>;

// Full covariances, as in GrabCut (Rother, Kolmogorov, Blake: "GrabCut", SIGGRAPH 2004; from memory). The
// split is by the longest axis of the widest part rather than by random seeds: the same pixels give the same
// model.
class LookModel {
 public:
  // At most `parts` Gaussians; at least one look is needed for a usable model.
  LookModel(const std::vector<Look>& looks, int parts);
  bool usable() const { return !parts_.empty(); }
  // -log of the density; > 0 is unlikely. 0 when the model is not usable.
  float cost(const Look& look) const;

 private:
  struct Part {
    Look mean{};
    std::array<float, kLookSize*(kLookSize + 1) / 2>
        whitening{};   // lower triangle of the inverse Cholesky factor
    float offset = 0;  // log weight minus log of the volume
  };
  std::vector<Part> parts_;
};

}  // namespace burstsieve::subject
