// One picture through the engine's finders, as a run would ask them.
#pragma once
#include <functional>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "score.h"

namespace burstsieve::subject_check {

struct Looked {
  int width = 0, height = 0;    // upright pixels
  std::vector<Answer> answers;  // one for each finder, the last one kFused
};

inline const std::string kFused = "all, fused";

// A finder that looks at the pixels of the whole picture: CV_8UC3 BGR, upright, full size. The neural
// detector joins here.
struct Eye {
  std::string source;
  std::function<std::vector<Subject>(const cv::Mat& bgr)> find;
};

// JPEG and raw files are decoded as by a run; other pictures (PNG, ...) become a JPEG of quality 97 in the
// system's temporary folder first. No burst motion: one picture has no frame before it. Errors: as
// decode_planes; corrupt when the picture is damaged.
Result<Looked> look_at(const std::string& path, const std::vector<Eye>& eyes = {});

}  // namespace burstsieve::subject_check
