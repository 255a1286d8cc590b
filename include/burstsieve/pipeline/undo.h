// Taking a whole run's changes of sidecars back.
#pragma once
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"

namespace burstsieve::pipeline {

struct UndoOptions {
  std::optional<std::int64_t> run;  // nothing: the last one that changed a sidecar
  bool dry_run = false;             // only look
};

struct UndoSummary {
  std::int64_t run = 0;      // 0: no run has changed anything
  std::size_t restored = 0;  // the old contents are back
  std::size_t removed = 0;   // created by the run, gone again
  std::size_t already = 0;   // were as before: the run was killed at them, or somebody put them back
  std::size_t left = 0;      // left alone, each told
  bool dry_run = false;
  // Nothing of this run was left to undo.
  bool nothing() const { return restored + removed + already + left == 0; }
};

// The sidecar that is left alone, and why.
using LeftAlone = std::function<void(const Error&)>;

// Goes through the run's journal backwards, one sidecar in memory at a time. A sidecar that somebody, or a
// later run that still stands, has changed since is left alone; undo() may then be called again. Safe to kill
// and to repeat. Folders that the run made for sidecars stay.
// Cause::unsupported when there is no such run or its journal is no longer kept (JournalLimits); Cause::io or
// corrupt when the catalogue can't be used.
Result<UndoSummary> undo(const UndoOptions& options, Catalog& catalog, FileSystem& fs,
                         const LeftAlone& left_alone);

}  // namespace burstsieve::pipeline
