// The mean cross-section of a region's strongest free-standing edges, and the blur that it shows.
//
// The gradient of an edge of width s, seen through a Gaussian derivative of scale t, falls off across the
// edge as a Gaussian of variance S^2 = s^2 + t^2 (the line-spread function of the edge, convolved with the
// filter). Profiles of many edges are added up with their sign and the weight of their contrast, so that
// noise, which has no sign in common, averages out instead of adding energy; the width is then read from the
// core of the sum. An edge counts when its profile is a single bump: dense texture, whose neighbouring edges
// narrow or widen the bump, would answer for itself and not for the lens.
//
// Sources: edge-spread and line-spread function as in ISO 12233 (slanted edge); the scale-space edge model as
// in measure/detail.h. The pooling is our own; its bias is measured in docs/measures.md.
#pragma once
#include <array>

namespace burstsieve::measure {

inline constexpr int kProfileReach = 6;  // px of the level on either side of the ridge

struct EdgeProfile {
  // Mean of both sides, in steps of one pixel from the ridge outwards; any unit. Zero when nothing counted.
  std::array<double, kProfileReach + 1> half{};
  double added_variance = 0;  // px^2 that reading between pixels and off the ridge's centre added to S^2
  int edges = 0;              // ridge pixels that counted
  int seen = 0;               // ridge pixels that were looked at
};

// The width s of the edges in pixels of the level, the pixel's aperture (1/12 px^2) not counted; 0..4.
// known = false: fewer than 8 edges, or no bump.
struct ProfileBlur {
  double sigma = 0;
  bool known = false;
};
ProfileBlur profile_blur(const EdgeProfile& profile);

}  // namespace burstsieve::measure
