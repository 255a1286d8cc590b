#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <optional>

#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
#include "burstsieve/watch/lock.h"
#include "burstsieve/watch/state.h"
#include "output.h"
#include "settings.h"
#include "terminal.h"

namespace burstsieve::tool {
namespace {

std::atomic<bool> stop_asked{false};
static_assert(std::atomic<bool>::is_always_lock_free, "set from a signal handler");

// The first Ctrl-C finishes the frames in flight; the second ends the process at once, which loses nothing
// acknowledged.
void on_interrupt(int) {
  stop_asked = true;
  std::signal(SIGINT, SIG_DFL);
  std::signal(SIGTERM, SIG_DFL);
}

}  // namespace

namespace {

// A watcher culls its folder by itself; two of us would stand in each other's way over every sidecar. Looking
// is free.
std::optional<Error> watched(const Settings& settings) {
  if (settings.cull.dry_run) return std::nullopt;
  const auto state = watch::state_folder();
  if (!state) return std::nullopt;
  for (const std::string& place : settings.cull.places) {
    const bool folder = watch::real_folder(place).operator bool();
    if (const auto holder = watch::FolderLock::holder_of(folder ? place : folder_of(place), *state))
      return Error{Cause::unsupported, place,
                   "is watched, and culled as it fills, by " + holder->text() +
                       "; stop that first, or only look with --dry-run"};
  }
  return std::nullopt;
}

}  // namespace

int run_cull(Settings& settings) {
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
  if (const auto e = watched(settings)) return cannot_run(*e);
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  RealFileSystem fs;
  SystemClock clock;
  std::signal(SIGINT, on_interrupt);
  std::signal(SIGTERM, on_interrupt);
  Terminal terminal(settings, clock);
  const auto summary = pipeline::cull(settings.cull, *catalog, fs, clock, terminal, &stop_asked);
  terminal.clear_bar();
  if (!summary) return cannot_run(summary.error());
  const auto light = report::light_drift(terminal.light());
  say("{}{}", settings.json ? report::summary_json(*summary, light) : report::summary_text(*summary, light),
      settings.json ? "\n" : "");
  if (lost_output()) return kCannotRun;
  if (stop_asked) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  return summary->errors ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
