// The scene behind the subject: samples of its light for the instruments of shadows and contrast.
#pragma once
#include <vector>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure {

struct SceneLight {
  // Parts of the clip: green of a mosaic's blocks, or luma of a rendering through the inverse sRGB curve.
  std::vector<float> background;  // outside the subject's box grown by a tenth
  std::vector<float> all;         // of the whole picture
  std::vector<float> whites;      // brightest channel of the white plumage (plumage.h)
  double floor = 0;               // the level at which noise alone is as strong as the light
};

// At most about 60,000 samples. Empty where levels make no sense.
SceneLight scene_light(const decode::Mosaic& overview, const Subject& subject, const CellMask& mask);
SceneLight scene_light(const decode::Planes& planes, const Subject& subject, const CellMask& mask);

// The level below which `share` (0..1) of the samples lie; 0 without samples. Reorders.
double percentile(std::vector<float>& samples, double share);

}  // namespace burstsieve::measure
