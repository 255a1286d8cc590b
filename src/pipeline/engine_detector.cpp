#include "engine_detector.h"

#include <unistd.h>

#include "burstsieve/subject/detector.h"

namespace burstsieve::pipeline {

std::string EngineDetector::identity() const {
  return pool ? subject::detector_identity() : std::string();
}

EngineDetector load_detector(const std::string& path) {
  if (path.empty()) return {};
  auto pool = subject::DetectorPool::load(path);
  if (!pool) return {nullptr, pool.error().text};
  return {std::move(*pool), {}};
}

Status accept_detector(const EngineOptions& options, const std::string& why_not, std::vector<Error>& notes) {
  if (why_not.empty()) return Done{};
  if (options.detector_required)
    return Error{Cause::unsupported, options.detector, "the subject detector: " + why_not};
  // Not installed: the summary says so.
  if (::access(options.detector.c_str(), F_OK) == 0)
    notes.push_back({Cause::unsupported, options.detector,
                     "the subject detector can't be used: " + why_not + "; going on without it"});
  return Done{};
}

}  // namespace burstsieve::pipeline
