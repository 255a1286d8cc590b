// What noise alone does to the green of a mosaic's blocks: as the file states it, else estimated.
#pragma once
#include "plumage.h"

namespace burstsieve::measure {

// variance = slope x + offset for a level x, parts of the clip (DNG 1.6 NoiseProfile has the same form).
struct BlockNoise {
  double slope = 0, offset = 0;
  bool known = false;
  double variance(double level) const;
};

// Of the mean green of one block. The DNG NoiseProfile where the file has one, unless the mosaic itself shows
// less than half of that deviation (a converter that took noise away and left the tag); it is right where the
// estimate is not, on a mosaic that is textured everywhere. Else block_noise_of_pixels().
BlockNoise block_noise(const Blocks& blocks);

// The estimate. Second differences along rows, so that shading does not count; of the runs
// of 10 blocks of one brightness the quietest fifth answers, so that texture does not count while a fifth of
// the frame is smooth at some brightness. Nothing known with fewer than 20 runs. Reads high on a mosaic that
// is textured everywhere.
BlockNoise block_noise_of_pixels(const Blocks& blocks);

}  // namespace burstsieve::measure
