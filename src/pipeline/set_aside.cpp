// A whole run: from the folders named to the history.
#include "burstsieve/pipeline/set_aside.h"

#include <fmt/format.h>

#include <utility>

#include "burstsieve/base/version.h"
#include "burstsieve/group/pairs.h"
#include "burstsieve/pipeline/scan.h"
#include "metadata.h"
#include "set_aside_mover.h"
#include "set_aside_places.h"

namespace burstsieve::pipeline {
namespace {

// The frames as cull() sees them. The only place here that opens photographs.
Result<std::vector<Burst>> bursts_of(const std::vector<std::string>& places, const SetAsideOptions& options,
                                     Catalog& catalog, SetAsideListener& listener, SetAsideSummary& summary) {
  const auto fail = [&](const Error& e) {
    ++summary.errors;
    listener.error(e);
  };
  const auto engine = make_engine(options.engine, 0, options.limits);
  if (!engine) return engine.error();
  auto found = scan(**engine, places, options.limits);
  if (!found) return found.error();
  for (const Error& e : found->errors) fail(e);
  auto metadata = read_metadata(found->files, catalog, **engine);
  if (const Status s = (*engine)->status(); !s) return s.error();
  for (const Error& e : metadata.errors) fail(e);
  return group::form_bursts(group::pair_files(std::move(metadata.taken)), options.bursts);
}

std::string joined(const std::vector<std::string>& places) {
  std::string out;
  for (const std::string& p : places) out += (out.empty() ? "" : ", ") + p;
  return out;
}

// Nothing to do although the catalogue knows rejects that are still there: their sidecars are elsewhere.
void hint(const std::vector<std::string>& places, const SetAsideSummary& s, Catalog& catalog, FileSystem& fs,
          SetAsideListener& listener) {
  if (s.frames + s.refused + s.spared + s.theirs + s.errors > 0) return;
  for (const std::string& place : places) {
    std::size_t rejects = 0;
    for (const PathVerdict& v : catalog.verdicts_below(place)) {
      if (v.verdict.verdict != Verdict::reject) continue;
      const auto there = fs.stat(v.path);
      rejects += there && there->has_value();
    }
    if (rejects > 0)
      listener.note(place,
                    fmt::format("{} frames were rejected, but no sidecar says so: a dry run, or sidecars in "
                                "another folder (--sidecars)?",
                                rejects));
  }
}

Status make_dir(FileSystem& fs, const std::string& dir, bool dry_run) {
  const auto there = fs.stat(dir);
  if (!there) return there.error();
  if (*there && (*there)->type != FileType::folder) return Error{Cause::unsupported, dir, "is no folder"};
  if (dry_run) return Done{};
  if (auto s = make_folders(fs, dir, 0777); !s) return s.error();
  return fs.check_writable(dir);
}

}  // namespace

Result<SetAsideSummary> set_aside(const SetAsideOptions& options, Catalog& catalog, FileSystem& fs,
                                  Clock& clock, SetAsideListener& listener, const std::atomic<bool>* stop) {
  if (auto s = options.bursts.check(); !s) return s.error();
  SetAsideJob job;
  job.dry_run = options.dry_run;
  const auto dir = resolved(options.dir);
  if (!dir) return dir.error();
  job.dir = *dir;
  std::vector<std::string> places = options.places;
  if (places.empty()) {
    auto last = last_culled(catalog);
    if (!last) return last.error();
    places = std::move(*last);
  }
  listener.folders(places, options.places.empty());
  for (std::string& place : places) {
    auto real = resolved(place);
    if (!real) return real.error();
    place = std::move(*real);
  }
  auto roots = roots_of(places, job.dir);
  if (!roots) return roots.error();
  job.roots = std::move(*roots);
  if (!options.sidecars.empty()) {
    auto real = resolved(options.sidecars);
    if (!real) return real.error();
    job.sidecars = std::move(*real);
  }

  if (auto s = make_dir(fs, job.dir, job.dry_run); !s) return s.error();
  const auto hold = held(fs, job.dir, job.dry_run);
  if (!hold) return hold.error();
  // Before the scan: what comes back is to be seen by it.
  SetAsideSummary before;
  before.dry_run = job.dry_run;
  if (auto s = settle_set_aside(job.dir, fs, clock, listener, before); !s) return s.error();
  const auto bursts = bursts_of(places, options, catalog, listener, before);
  if (!bursts) return bursts.error();
  job.linked = linked_folders(*bursts);

  if (!job.dry_run) {
    Run run;
    run.started_ms = clock.now_ms();
    run.folder = joined(places);
    run.options = "set aside";
    run.version = kVersion;
    const auto id = catalog.record_run(run);
    if (!id) return id.error();
    job.run = *id;
  }
  auto summary = set_aside_bursts(job, *bursts, fs, clock, listener, stop);
  if (!summary) return summary.error();
  summary->errors += before.errors;
  summary->finished += before.finished;
  if (!job.dry_run) {
    RunCounts counts;
    counts.frames = static_cast<std::int64_t>(summary->seen);
    counts.bursts = static_cast<std::int64_t>(bursts->size());
    counts.rejects = static_cast<std::int64_t>(summary->frames);
    if (const auto s = catalog.finish_run(job.run, clock.now_ms(), counts); !s) return s.error();
  }
  hint(places, *summary, catalog, fs, listener);
  for (const std::string& note : catalog.take_notes()) {
    ++summary->errors;
    listener.error({Cause::corrupt, {}, note});
  }
  return summary;
}

}  // namespace burstsieve::pipeline
