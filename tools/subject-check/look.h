// One picture through the engine's finders, as a run would ask them.
#pragma once
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/subject/detector.h"
#include "score.h"

namespace burstsieve::subject_check {

struct Looked {
  int width = 0, height = 0;    // upright pixels
  std::vector<Answer> answers;  // one for each finder, the last one kFused
  cv::Mat view;                 // CV_8UC3 BGR, upright, longest side LookOptions::view
};

inline const std::string kFused = "all, fused";

struct LookOptions {
  subject::DetectorPool* detectors = nullptr;
  std::optional<AfArea> focus = std::nullopt;  // instead of the file's own
  int view = 0;                                // px; 0: no view
};

// JPEG and raw files are decoded as by a run; other pictures (PNG, ...) become a JPEG of quality 97 in the
// system's temporary folder first. No burst motion: one picture has no frame before it. Errors: as
// decode_planes; corrupt when the picture is damaged; memory when the detector fails.
Result<Looked> look_at(const std::string& path, const LookOptions& options = {});
// A picture in memory, CV_8UC3 BGR, by way of such a JPEG. `name` is for errors.
Result<Looked> look_at(const cv::Mat& bgr, const std::string& name, const LookOptions& options = {});

}  // namespace burstsieve::subject_check
