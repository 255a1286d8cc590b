// One picture through the engine's finders, as a run would ask them.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/subject/detector.h"
#include "score.h"

namespace burstsieve::subject_check {

struct Looked {
  int width = 0, height = 0;    // upright pixels
  std::vector<Answer> answers;  // one for each finder, the last one kFused
};

inline const std::string kFused = "all, fused";

// JPEG and raw files are decoded as by a run; other pictures (PNG, ...) become a JPEG of quality 97 in the
// system's temporary folder first. No burst motion: one picture has no frame before it. Errors: as
// decode_planes; corrupt when the picture is damaged; memory when the detector fails. detectors: may be null.
Result<Looked> look_at(const std::string& path, subject::DetectorPool* detectors = nullptr);

}  // namespace burstsieve::subject_check
