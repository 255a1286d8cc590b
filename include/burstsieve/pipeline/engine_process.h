// The engine in a process of its own: it opens photographs read-only, under a system call filter and limits,
// and answers through a pipe. A photograph that crashes it, hangs it or eats its memory costs that photograph
// and nothing else: the process is started again, and whatever was in flight is tried one at a time.
#pragma once
#include <cstdint>
#include <memory>
#include <string>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

struct EngineOptions {
  // Started as `program engine-process`; it must call serve_engine(). Empty: no process, the engine works in
  // this one, unprotected (tests, benchmarks).
  std::string program;
  bool require_sandbox = false;  // true: an Error where the system refuses the filter, instead of a note
  // Silence, with work in flight, after which the process counts as hung; > 0. A 45 MP lossless raw takes 1 s
  // on a slow core; a card that reads 1 MB/s, half a minute.
  double hang_seconds = 90;
  // Address space of the process; 0: 2 GiB and 1 GiB per thread, at most what the machine has. A 45 MP frame
  // takes .2 GB, the largest allowed one 1.5 GB.
  std::uint64_t memory_bytes = 0;

  // The subject detector's model (subject::detector_file()); empty: none. Where it can't be loaded the engine
  // works without it and a note says why, but for a file that is simply not there; or, with
  // detector_required, there is an Error.
  std::string detector;
  bool detector_required = false;

  Status check() const;
};

// In this process or another, as the options say. Cause::io when the process can't be started;
// Cause::unsupported when it can't be protected and must be, or has no detector and must have.
// The process ends with the thread that started it: keep that thread until the engine is gone.
Result<std::unique_ptr<Engine>> make_engine(const EngineOptions& options, int threads, const Limits& limits);

// The other side: what the program does after starting as `program engine-process`. Gives the exit code.
// `also`: told what the supervisor is told, before each item; for tests.
int serve_engine(EngineObserver* also = nullptr);

// The word by which a program knows that it was started for this.
inline constexpr const char* kEngineArgument = "engine-process";

}  // namespace burstsieve::pipeline
