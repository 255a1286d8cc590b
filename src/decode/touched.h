// From a normalised region to whole pixels.
#pragma once
#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "burstsieve/model/region.h"

namespace burstsieve::decode {

// Every pixel of a picture of `size` that `region` touches; empty when there is none. 1/1000 px forgives the
// rounding of regions that were made from whole pixels.
inline cv::Rect touched(const Region& region, cv::Size size) {
  const Region r = clamped(region);
  if (r.empty() || size.empty()) return {};
  const auto first = [](double at) { return static_cast<int>(std::floor(at + 1e-3)); };
  const auto last = [](double at) { return static_cast<int>(std::ceil(at - 1e-3)); };
  const int x0 = std::min(first(r.x * size.width), size.width - 1);
  const int y0 = std::min(first(r.y * size.height), size.height - 1);
  return {x0, y0, std::max(last(r.right() * size.width) - x0, 1),
          std::max(last(r.bottom() * size.height) - y0, 1)};
}

}  // namespace burstsieve::decode
