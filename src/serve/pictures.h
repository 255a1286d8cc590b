// Pictures of frames, from the engine: the one process that opens photographs.
#pragma once
#include <atomic>
#include <condition_variable>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

#include "burstsieve/base/limits.h"
#include "burstsieve/pipeline/engine_process.h"
#include "burstsieve/serve/http.h"

namespace burstsieve::serve {

class Pictures {
 public:
  Pictures(const pipeline::EngineOptions& options, int threads, const Limits& limits);
  ~Pictures();
  Pictures(const Pictures&) = delete;
  Pictures& operator=(const Pictures&) = delete;

  // Answers with the JPEG, 404 when the photograph can't be shown (with why), 503 when too many wait or the
  // engine can't be started. Several are asked for at once, so that every core has one.
  void ask(pipeline::RenderTask task, Respond respond);

 private:
  struct Waiting {
    pipeline::RenderTask task;
    Respond respond;
  };
  Status make_ready();
  void work();
  std::deque<Waiting> take();
  void answer(std::deque<Waiting>& batch);

  const pipeline::EngineOptions options_;
  const int threads_;
  const Limits limits_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Waiting> waiting_;
  bool closed_ = false;
  std::unique_ptr<pipeline::Engine> engine_;  // made and used by the thread: it dies with that
  std::thread thread_;
};

}  // namespace burstsieve::serve
