#include <fmt/format.h>

#include <cstdio>
#include <optional>

#include "burstsieve/pipeline/learn.h"
#include "burstsieve/report/json.h"
#include "burstsieve/report/preferences.h"
#include "burstsieve/report/text.h"
#include "burstsieve/watch/lock.h"
#include "burstsieve/watch/state.h"
#include "interrupt.h"
#include "output.h"
#include "settings.h"
#include "terminal.h"

namespace burstsieve::tool {
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
                   std::string(holder->command == "review" ? "is being reviewed by "
                                                           : "is watched, and culled as it fills, by ") +
                       holder->text() + "; stop that first, or only look with --dry-run"};
  }
  return std::nullopt;
}

// At the end of a whole run; in its middle it would give a continued run other verdicts.
void learn(const Settings& settings, Catalog& catalog, Clock& clock, RunSummary& summary) {
  const auto lesson = pipeline::learn_preferences(catalog, settings.cull.profile, clock.now_ms());
  if (!lesson) {
    ++summary.errors;
    complain("burstsieve: {}\n", lesson.error().line());
  } else if (lesson->fresh && !settings.json) {
    say("{}", report::learnt_line(lesson->profile));
  }
}

}  // namespace

int run_cull(Settings& settings) {
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
  if (!is_profile_name(settings.cull.profile)) {
    cannot_run({Cause::unsupported, {}, "a profile's name is 1 to 64 letters, digits, '-', '_' and '.'"});
    return kUsage;
  }
  if (const auto e = watched(settings)) return cannot_run(*e);
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  RealFileSystem fs;
  SystemClock clock;
  const std::atomic<bool>& stop = stop_on_interrupt();
  Terminal terminal(settings, clock);
  auto summary = pipeline::cull(settings.cull, *catalog, fs, clock, terminal, &stop);
  terminal.clear_bar();
  if (!summary) return cannot_run(summary.error());
  const auto light = report::light_drift(terminal.light());
  say("{}{}", settings.json ? report::summary_json(*summary, light) : report::summary_text(*summary, light),
      settings.json ? "\n" : "");
  if (!stop && !settings.cull.dry_run) learn(settings, *catalog, clock, *summary);
  if (lost_output()) return kCannotRun;
  if (stop) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  return summary->errors ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
