// From files to frames: a raw and a JPEG of one release of the shutter are one frame.
#pragma once
#include <vector>

#include "burstsieve/model/frame.h"

namespace burstsieve::group {

struct TakenFile {
  FileRef file;
  Capture capture;
};

// Pairs a raw with a JPEG when their stems are equal (ASCII case ignored), camera and capture time agree, and
// they lie in the same folder, or in two folders when the sub-second is known, so that the time alone tells
// them apart. Files with the same size and fingerprint are copies of one frame. Everything else is a frame of
// its own. The result does not depend on the order of `files`; it is sorted by path.
std::vector<Frame> pair_files(std::vector<TakenFile> files);

}  // namespace burstsieve::group
