// The live review: a page on this machine's loopback address, over a culled shoot. docs/review.md has the
// promises and what the page may ask.
//
// Threads: one serves the connections and waits for nothing; one owns the decisions and writes sidecars; one
// reads thumbnails from a catalogue of its own; one asks the engine for pictures.
#pragma once
#include <atomic>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/serve/gate.h"
#include "burstsieve/serve/http.h"
#include "burstsieve/serve/review.h"

namespace burstsieve::serve {

struct ServerOptions {
  int port = 0;  // 0: any free one
  HttpLimits http;
  // Given instead of random ones, in tests.
  std::optional<Secrets> secrets;
  // The page at /debrief, from the shoot; nothing: there is none. Called on the thread of the decisions,
  // after the same checks as any request. It may bring a Content-Security-Policy of its own in its headers.
  std::function<Reply(const Shoot&)> debrief;
  double longest_wait_s = 20;  // of /api/changes with wait
};

class Server {
 public:
  // `review` is used by the server's threads only from here on; `thumbnails`: opened on the same file as the
  // review's catalogue. Both must outlive it.
  static Result<std::unique_ptr<Server>> start(const ServerOptions& options,
                                               const pipeline::CullOptions& cull, Review& review,
                                               Catalog& thumbnails);
  virtual ~Server() = default;
  virtual std::string address() const = 0;  // what to open
  virtual int port() const = 0;
  // Serves on this thread until `stop`. What was asked before is finished; `review` is free again afterwards.
  virtual void run(const std::atomic<bool>& stop) = 0;
};

}  // namespace burstsieve::serve
