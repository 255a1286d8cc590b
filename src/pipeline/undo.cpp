#include "burstsieve/pipeline/undo.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <set>
#include <string>

#include "burstsieve/base/durable.h"
#include "burstsieve/sidecar/restore.h"

namespace burstsieve::pipeline {
namespace {

Result<std::int64_t> chosen_run(const UndoOptions& options, Catalog& catalog) {
  if (!options.run) {
    const auto last = catalog.last_run_with_changes();
    if (!last) return last.error();
    return last->value_or(0);
  }
  const auto runs = catalog.runs();
  if (std::none_of(runs.begin(), runs.end(), [&](const Run& r) { return r.id == *options.run; }))
    return Error{Cause::unsupported, {}, fmt::format("there is no run {} in the catalogue", *options.run)};
  const auto forgotten = catalog.is_forgotten(*options.run);
  if (!forgotten) return forgotten.error();
  if (*forgotten)
    return Error{Cause::unsupported,
                 {},
                 fmt::format("run {} is too old to be undone: its journal is no longer kept", *options.run)};
  return *options.run;
}

class Undo {
 public:
  Undo(const UndoOptions& options, Catalog& catalog, FileSystem& fs, const LeftAlone& left_alone)
      : catalog_(catalog), fs_(fs), left_alone_(left_alone) {
    summary_.dry_run = options.dry_run;
  }

  Result<UndoSummary> of(std::int64_t run) {
    summary_.run = run;
    for (std::int64_t below = std::numeric_limits<std::int64_t>::max();;) {
      const auto entry = catalog_.change_before(run, below);
      if (!entry) return entry.error();
      if (!*entry) return summary_;
      below = (*entry)->sequence;
      if (auto s = one(**entry); !s) return s.error();
    }
  }

 private:
  Status one(const JournalEntry& entry) {
    const auto later = catalog_.run_that_changed_after(entry);
    if (!later) return later.error();
    // The run changed this sidecar twice, and the second change stands: it has been told.
    if (*later && **later == entry.run) return Done{};
    if (*later) return leave(entry, fmt::format("run {} changed it since; undo that one first", **later));
    if (entry.before_damaged) return leave(entry, "its old contents in the catalogue are damaged");
    return restore(entry);
  }

  Status restore(const JournalEntry& entry) {
    // What a killed undo left behind goes first; where that can't be done, the sidecar itself will say so.
    const std::string folder = folder_of(entry.path);
    if (!summary_.dry_run && tidied_.insert(folder).second) static_cast<void>(tidy_folder(fs_, folder));
    std::optional<Bytes> before;
    if (entry.before) before = *entry.before;
    const auto done = restore_sidecar(fs_, entry.path, before, entry.wrote, summary_.dry_run);
    if (!done) return leave(entry, done.error().text);
    if (*done == Restored::changed_since) return leave(entry, "was changed or removed since, left alone");
    summary_.restored += *done == Restored::restored;
    summary_.removed += *done == Restored::removed;
    summary_.already += *done == Restored::already;
    if (summary_.dry_run) return Done{};
    // After the file: a kill in between leaves one that is as before already.
    return catalog_.mark_undone(entry, *done != Restored::already);
  }

  Status leave(const JournalEntry& entry, std::string why) {
    ++summary_.left;
    left_alone_({Cause::io, entry.path, std::move(why)});
    return Done{};
  }

  Catalog& catalog_;
  FileSystem& fs_;
  const LeftAlone& left_alone_;
  UndoSummary summary_;
  std::set<std::string> tidied_;  // folders
};

}  // namespace

Result<UndoSummary> undo(const UndoOptions& options, Catalog& catalog, FileSystem& fs,
                         const LeftAlone& left_alone) {
  const auto run = chosen_run(options, catalog);
  if (!run) return run.error();
  return Undo(options, catalog, fs, left_alone).of(*run);
}

}  // namespace burstsieve::pipeline
