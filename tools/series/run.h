// Looks at the photographs of series and lines them up as the engine would the frames of one pose.
#pragma once
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/rank/preference.h"
#include "burstsieve/subject/detector.h"
#include "score.h"

namespace burstsieve::series {

struct RunOptions {
  std::string folder, choices;                       // paths
  std::shared_ptr<subject::DetectorPool> detectors;  // may be empty
  std::optional<rank::Weights> learnt;               // as rank::PolicyOptions
  int threads = 0;                                   // 0: one per core
};

struct RunResult {
  Score score;
  std::vector<Error> errors;  // lines and photographs that could not be used
};

// Each photograph is measured alone, and all of a series are compared as one pose, whatever their sizes: blur
// in pixels of files of different size is not comparable, and this is not corrected.
Result<RunResult> run(const RunOptions& options);

}  // namespace burstsieve::series
