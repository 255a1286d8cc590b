// How an engine comes by its subject detector.
#pragma once
#include <memory>
#include <string>

#include "burstsieve/base/result.h"
#include "burstsieve/pipeline/engine_process.h"

namespace burstsieve::pipeline {

struct EngineDetector {
  std::shared_ptr<subject::DetectorPool> pool;  // null: none
  std::string why_not;                          // empty with a detector, or when none was asked for
  std::string identity() const;                 // Engine::detector()
};

// Of the file `path`; none for an empty one.
EngineDetector load_detector(const std::string& path);

// What is to be made of `why_not` (EngineDetector): an Error when the detector is required, else perhaps a
// note.
Status accept_detector(const EngineOptions& options, const std::string& why_not, std::vector<Error>& notes);

}  // namespace burstsieve::pipeline
