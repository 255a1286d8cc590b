// What lies between the sensor and the pixels that are measured: colour filter, demosaicing, JPEG.
#pragma once
#include <opencv2/core.hpp>
#include <string>

#include "scenes.h"

namespace burstsieve::compare {

// none: every pixel sees all colours. The other two are OpenCV's (cv::demosaicing, 16 bit, RGGB).
enum class Mosaic { none, bilinear, edge_aware };

// px^2 that it adds to the blur of a grey edge, by the slanted edge (tests/compare). Real blur of the
// picture: the measure is to see it, a truth about the picture must count it in.
double demosaic_variance(Mosaic mosaic);

struct Rendering {
  Mosaic mosaic = Mosaic::none;
  int quality = 0;           // of libjpeg, 1..100; 0: no JPEG
  bool full_chroma = false;  // 4:4:4, else 4:2:0
  std::string name() const;
};

// Luma as the product would decode it. noise: standard deviation at .3 of the clip, shot and read noise as
// 9 : 1; without a mosaic it is that of all channels alike, so of the luma, as in developed(); with one it is
// each photosite's, before white balance (red x 2, blue x 1.67), and what of it is left in the luma, and how
// its neighbours hang together, is the demosaicing's doing. No sharpening, no noise reduction, no colour
// matrix.
cv::Mat rendered(const Scene& scene, const Rendering& rendering, double noise, unsigned seed);

}  // namespace burstsieve::compare
