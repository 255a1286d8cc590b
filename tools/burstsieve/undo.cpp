#include "burstsieve/pipeline/undo.h"

#include <fmt/format.h>

#include <cstdio>

#include "settings.h"

namespace burstsieve::tool {
namespace {

void print_summary(const pipeline::UndoSummary& s) {
  if (s.run == 0) {
    fmt::print("Nothing to undo: no run has changed a sidecar\n");
  } else if (s.nothing()) {
    fmt::print("Nothing to undo: no change of run {} stands (burstsieve history lists the runs)\n", s.run);
  } else {
    fmt::print(
        "{} {}: {} sidecars restored, {} removed that the run had created, {} as before already, "
        "{} left alone\n",
        s.dry_run ? "Would undo run" : "Undid run", s.run, s.restored, s.removed, s.already, s.left);
  }
}

}  // namespace

int run_undo(const Settings& settings, const pipeline::UndoOptions& options) {
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  RealFileSystem fs;
  const auto summary = pipeline::undo(
      options, *catalog, fs, [](const Error& e) { fmt::print(stderr, "burstsieve: {}\n", e.line()); });
  if (!summary) return cannot_run(summary.error());
  print_summary(*summary);
  if (std::fflush(stdout) != 0) return cannot_run({Cause::io, "standard output", "could not be written"});
  return summary->left > 0 ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
