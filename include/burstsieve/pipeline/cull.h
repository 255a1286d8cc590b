// The main job: from folders to verdicts and sidecars.
#pragma once
#include <atomic>
#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/group/bursts.h"
#include "burstsieve/group/pose.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/pipeline/engine_process.h"
#include "burstsieve/pipeline/scan.h"
#include "burstsieve/rank/policy.h"
#include "burstsieve/sidecar/writer.h"

namespace burstsieve::pipeline {

struct CullOptions {
  std::vector<std::string> places;  // folders or files
  int threads = 0;                  // 0: one per core
  EngineOptions engine;             // where photographs are opened
  bool dry_run = false;             // true: everything but the sidecars is done
  SidecarOptions sidecars;
  group::BurstOptions bursts;
  group::PoseOptions poses;
  rank::PolicyOptions policy;
  // Whose taste: a profile of the catalogue. What it has learnt goes into the policy at the start of a run,
  // and the overrides that are seen are its own.
  std::string profile = kDefaultProfile;
  Limits limits;
  // For folders that are still filling; empty: everything is ready. What is not is left to a later run.
  FileReady file_ready;
  std::function<bool(const Burst&)> burst_ready;
};

// Told what happens, always from one thread at a time, bursts in order of time.
class Listener {
 public:
  virtual ~Listener() = default;
  virtual void found(const ScanCounts& counts, std::size_t bursts, std::size_t frames) = 0;
  virtual void progress(std::size_t frames_done, std::size_t frames_total) = 0;
  virtual void burst(const BurstOutcome& outcome) = 0;
  virtual void error(const Error& error) = 0;
  // Worth knowing, nothing to mend; not counted.
  virtual void note(const Error&) {}
};

// Scans, reads metadata, forms bursts, measures what the catalogue does not know, judges, writes sidecars.
// The answer depends only on the files, the options and what the profile has learnt: not on threads, order of
// files, or earlier interrupted runs. One bad file is one error told to the listener; an Error comes back
// only when the run as a whole can't be done. `stop`, when set by another thread or a signal handler, ends
// the run after the frames in flight; a later run goes on from there.
Result<RunSummary> cull(const CullOptions& options, Catalog& catalog, FileSystem& fs, Clock& clock,
                        Listener& listener, const std::atomic<bool>* stop = nullptr);

}  // namespace burstsieve::pipeline
