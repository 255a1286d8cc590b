// Collects an EdgeProfile from the ridges of one level.
#pragma once
#include <vector>

#include "burstsieve/measure/detail.h"
#include "gradient.h"

namespace burstsieve::measure {

struct Ridge {
  int x = 0, y = 0;
  int direction = 0;  // bin of the gradient, see EdgeLevel
};

// Pixels around a ridge that the profiles and their interpolation read.
inline constexpr int kRidgeMargin = kProfileReach + 2;

// The profile of all edges, and of those of each direction alone.
struct PooledEdges {
  EdgeProfile all;
  DirectedProfiles directed;
};

// fine, coarse: gradients of one scene-linear picture at kFineScale and kCoarseScale. The ridges are those of
// the coarse scale, at least kRidgeMargin pixels inside the picture. noise: standard deviation of one
// component of the fine gradient where there is nothing but noise.
PooledEdges pool_edges(const Gradient& fine, const Gradient& coarse, const std::vector<Ridge>& ridges,
                       double noise);

}  // namespace burstsieve::measure
