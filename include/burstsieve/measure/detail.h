// The edges of a region at several scales: what the sharpness and motion instruments read.
//
// A Gaussian edge of width s, seen through a Gaussian derivative of scale t, has on its ridge a squared
// gradient proportional to 1/(s^2 + t^2). The ratio of two scales t1 < t2 therefore gives s without knowing
// the contrast:
//     R = (s^2 + t2^2) / (s^2 + t1^2)      s^2 = (t2^2 - R t1^2) / (R - 1)
// (scale-space edge model: Lindeberg, "Edge detection and ridge detection with automatic scale selection",
// IJCV 30(2) 1998; cited from memory). Both sums are taken on the ridge of the coarse scale and freed of the
// energy that noise alone has at that scale, which is measured on the quietest tiles of the same frame, so
// that noise correlated by demosaicking and JPEG compression is accounted for as it is. These sums tell the
// directions apart. Neighbouring edges make them read up to 25 % low on dense texture; the blur of the region
// as a whole is read from the mean profile of edges that stand free (measure/edge_profile.h).
#pragma once
#include <array>
#include <opencv2/core.hpp>

#include "burstsieve/measure/edge_profile.h"
#include "burstsieve/measure/noise_line.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/region.h"

namespace burstsieve::measure {

// Gradient directions are told apart in bins of 15 degrees over half a turn (an edge has no sign).
inline constexpr int kDirections = 12;
// Level 0 is full size, each further one halves it; scales (1, 2) there are (2, 4) and (4, 8) full pixels.
inline constexpr int kLevels = 3;
inline constexpr double kFineScale = 1.0;    // px of the level
inline constexpr double kCoarseScale = 2.0;  // px of the level

struct EdgeLevel {
  // Sums over ridge pixels of the squared gradient, scene-linear, noise removed. Index: direction of the
  // gradient in the upright frame, bin k centred on 15 k degrees, counter-clockwise from the x axis.
  std::array<double, kDirections> fine{};
  std::array<double, kDirections> coarse{};
  std::array<double, kDirections> ridge_pixels{};
  double noise_ratio =
      0;  // share of noise in the fine energy before it was removed, 0..1; 1 = nothing but noise
};

// Profiles by direction of the gradient, bins as in EdgeLevel.
using DirectedProfiles = std::array<EdgeProfile, kDirections>;

struct Detail {
  std::array<EdgeLevel, kLevels> levels;
  std::array<EdgeProfile, kLevels> profiles;  // of all directions; empty on levels that were not needed
  std::array<DirectedProfiles, kLevels> directed;
  int tiles = 0;  // tiles of the region that were looked at; 0: nothing to measure
};

using NoiseFloors = std::array<NoiseFloor, kLevels>;

// From the quietest tiles of the frame, dark, middle and bright ones. luma, activity: as below.
NoiseFloors noise_floors(const cv::Mat& luma, const cv::Mat& activity);

// luma: CV_8U, full size, in the sensor's layout, sRGB transfer curve. activity: image::activity_map(luma).
// region: upright. Looks at the most active tiles of 64 px inside the region, those near its centre first.
// A region without edges gives zero sums. `mask`: the animal's outline; where it is trusted, edges outside it
// do not count (src/measure/own_edges.h). Blind without it to whether an edge belongs to the animal or to
// what stands before or behind it inside the region. `known`: the noise, where it is known better than from
// this frame (tools/compare measures what that is worth).
Detail gather_detail(const cv::Mat& luma, const cv::Mat& activity, int orientation, const Region& region,
                     const CellMask* mask = nullptr, const NoiseFloors* known = nullptr);

// Sigma of the Gaussian, in pixels of `luma`, that would blur an ideal edge as much; the pixel's own aperture
// (1/12 px^2) is not counted. Range 0..16.
struct EdgeBlur {
  double sigma = 0;
  double confidence = 0;  // 0..1: the share of such answers within 15 % of the truth (docs/measures.md)
};
// From the profiles; from the sums, with less confidence, where no edge stands free.
EdgeBlur edge_blur(const Detail& detail);
// From the sums of the direction and its two neighbours.
EdgeBlur edge_blur(const Detail& detail, int direction);

}  // namespace burstsieve::measure
