// Pictures of frames for somebody to look at, cut from the last frames decoded.
#pragma once
#include <cstddef>
#include <list>
#include <memory>
#include <mutex>
#include <string>

#include "burstsieve/base/limits.h"
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

// The file that is opened for it, by which a failure is known.
inline const std::string& path_of(const Candidate& c) {
  return c.path;
}
inline const std::string& path_of(const FileRef& f) {
  return f.path;
}
inline const std::string& path_of(const RenderTask& t) {
  return t.frame.jpeg ? t.frame.jpeg->path : t.frame.main().path;
}

// Thread-safe: several pictures of one frame asked for at once cost one decode.
class RenderDesk {
 public:
  explicit RenderDesk(const Limits& limits) : limits_(limits) {}

  // Errors as decode_planes(); Cause::unsupported for a region outside the frame, a side or a quality out of
  // range. A damaged frame is shown as far as it goes.
  Result<Rendering> render(const RenderTask& task);

 private:
  struct Decoded;
  std::shared_ptr<Decoded> place_of(const RenderTask& task);
  void make_room();

  const Limits limits_;
  std::mutex mutex_;
  std::list<std::shared_ptr<Decoded>> recent_;  // latest first
};

}  // namespace burstsieve::pipeline
