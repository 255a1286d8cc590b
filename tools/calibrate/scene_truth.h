// What a rendered scene holds, counted on its noise-free light: truth for the measures of light.
#pragma once
#include <array>
#include <opencv2/core.hpp>
#include <optional>

#include "frame.h"

namespace burstsieve::calibrate {

struct SceneTruth {
  // Over the white plumage, on the sensor: shares clipped per channel, and with one, two, three at once.
  std::array<double, 3> clipped{}, together{};
  std::array<double, 3> headroom_ev{};  // from the level that .5 % exceed, >= 0
  double white_share = 0;               // of the subject's pixels
  bool white = false;                   // enough plumage for the above
  // Rms second difference of 8 px patch means over the level, and share of 6 x 6 cells below 1 %.
  std::optional<double> texture, flat;
  double shadow_blocked = 0;     // of the background, whites held at the clip
  double scene_contrast_ev = 0;  // 99.5th over 1st percentile
};

// `subject`: upright. Call before photograph(), which uses the light up.
SceneTruth scene_truth(const generate::RenderedFrame& frame, int orientation);

}  // namespace burstsieve::calibrate
