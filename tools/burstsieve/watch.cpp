#include "watch.h"

#include <fmt/format.h>

#include "output.h"

namespace burstsieve::tool {

int run_watch(Settings& settings, const WatchSettings& watch) {
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check(), watch.times.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
  auto watching = Watching::start(settings, watch, "watch");
  if (!watching) return cannot_run(watching.error());
  const auto totals = (*watching)->watcher().run((*watching)->stop());
  complain("burstsieve: stopped; {} frames in {} bursts culled, {} errors\n", totals.frames, totals.bursts,
           totals.errors);
  return kStopped;
}

}  // namespace burstsieve::tool
