#include "burstsieve/pipeline/undo.h"

#include <fmt/format.h>

#include <cstdio>

#include "output.h"
#include "settings.h"

namespace burstsieve::tool {
namespace {

void print_summary(const pipeline::UndoSummary& s) {
  if (s.run == 0) {
    say("Nothing to undo: no run has changed a sidecar\n");
  } else if (s.nothing()) {
    say("Nothing to undo: no change of run {} stands (burstsieve history lists the runs)\n", s.run);
  } else {
    say("{} {}: {} sidecars restored, {} removed that the run had created, {} as before already, "
        "{} left alone\n",
        s.dry_run ? "Would undo run" : "Undid run", s.run, s.restored, s.removed, s.already, s.left);
  }
}

}  // namespace

int run_undo(const Settings& settings, const pipeline::UndoOptions& options) {
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  RealFileSystem fs;
  const auto summary =
      pipeline::undo(options, *catalog, fs, [](const Error& e) { complain("burstsieve: {}\n", e.line()); });
  if (!summary) return cannot_run(summary.error());
  print_summary(*summary);
  if (lost_output()) return kCannotRun;
  return summary->left > 0 ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
