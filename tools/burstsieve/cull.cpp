#include <fmt/format.h>

#include <csignal>
#include <cstdio>

#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
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

int run_cull(Settings& settings) {
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
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
  fmt::print("{}{}", settings.json ? report::summary_json(*summary) : report::summary_text(*summary),
             settings.json ? "\n" : "");
  if (std::fflush(stdout) != 0) return cannot_run({Cause::io, "standard output", "could not be written"});
  if (stop_asked) {
    fmt::print(stderr, "burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  return summary->errors ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
