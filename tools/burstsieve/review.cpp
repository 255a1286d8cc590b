#include "review.h"

#include <fmt/format.h>
#include <spawn.h>
#include <unistd.h>

#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "burstsieve/report/debrief.h"
#include "burstsieve/serve/server.h"
#include "burstsieve/watch/lock.h"
#include "burstsieve/watch/state.h"
#include "interrupt.h"
#include "look.h"
#include "output.h"
#include "terminal.h"

namespace burstsieve::tool {
namespace {

// The bursts are kept, and nothing of them is printed: the page shows them.
class Gatherer final : public pipeline::Listener {
 public:
  Gatherer(const Settings& settings, Clock& clock) : quiet_(with_quiet(settings)), terminal_(quiet_, clock) {}

  void found(const ScanCounts& counts, std::size_t bursts, std::size_t frames) override {
    terminal_.found(counts, bursts, frames);
  }
  void progress(std::size_t done, std::size_t total) override { terminal_.progress(done, total); }
  void burst(const BurstOutcome& outcome) override {
    debrief.add(outcome);
    shoot.add(outcome);
  }
  void error(const Error& e) override { terminal_.error(e); }
  void note(const Error& e) override { terminal_.note(e); }
  void end() { terminal_.clear_bar(); }

  serve::Shoot shoot;
  report::DebriefMaker debrief;

 private:
  static Settings with_quiet(Settings s) {
    s.quiet = true;
    s.json = false;
    return s;
  }
  const Settings quiet_;
  Terminal terminal_;
};

// Its style stands in it, which the server's own policy would not let through.
serve::Reply debrief_reply(const std::string& page) {
  return {
      200,
      "text/html; charset=utf-8",
      page,
      {{"Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"}}};
}

// By the desktop's own opener, without a shell, and without waiting for it.
void open_in_browser(const std::string& address) {
  std::string program = "xdg-open", argument = address;
  char* const arguments[] = {program.data(), argument.data(), nullptr};
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  for (const int fd : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", fd == STDIN_FILENO ? 0 : 1, 0);
  posix_spawn_file_actions_addclosefrom_np(&actions, 3);  // the port must not live on in the browser
  // A session of its own: Ctrl-C here is not for the browser.
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSID);
  pid_t pid = 0;
  if (::posix_spawnp(&pid, "xdg-open", &actions, &attributes, arguments, environ) != 0)
    complain("burstsieve: no browser could be opened; open the address yourself\n");
  posix_spawnattr_destroy(&attributes);
  posix_spawn_file_actions_destroy(&actions);
}

// Nobody else may write sidecars there meanwhile, nor play another review's decisions.
Result<std::vector<watch::FolderLock>> lock_places(const std::vector<std::string>& places, Clock& clock) {
  std::vector<watch::FolderLock> out;
  const auto state = watch::state_folder();
  if (!state) return state.error();
  for (const std::string& place : places) {
    std::error_code failed;
    const bool folder = std::filesystem::is_directory(place, failed);
    auto lock = watch::FolderLock::take(folder ? place : folder_of(place), "review", *state, clock);
    if (!lock) return lock.error();
    out.push_back(std::move(*lock));
  }
  return out;
}

}  // namespace

int run_review(Settings& settings, const ReviewSettings& review_settings) {
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
  if (settings.cull.dry_run) {
    complain("burstsieve: review writes no sidecar until you press Done; there is no --dry-run of it\n");
    return kUsage;
  }
  SystemClock clock;
  const auto locks = lock_places(settings.cull.places, clock);
  if (!locks) return cannot_run(locks.error());
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  auto thumbnails = open_catalog(settings);
  if (!thumbnails) return cannot_run(thumbnails.error());
  RealFileSystem fs;
  const std::atomic<bool>& stop = stop_on_interrupt();
  settings.cull.dry_run = true;
  Gatherer gatherer(settings, clock);
  const auto summary = pipeline::cull(settings.cull, *catalog, fs, clock, gatherer, &stop);
  gatherer.end();
  if (!summary) return cannot_run(summary.error());
  if (stop) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  const std::string debrief = report::debrief_page(gatherer.debrief.finish(), title_of(settings.cull.places));
  auto review = serve::Review::open(std::move(gatherer.shoot), settings.cull, *catalog, fs, clock);
  if (!review) return cannot_run(review.error());
  serve::ServerOptions options;
  options.port = review_settings.port;
  options.debrief = [&debrief](const serve::Shoot&) { return debrief_reply(debrief); };
  auto server = serve::Server::start(options, settings.cull, **review, *thumbnails);
  if (!server) return cannot_run(server.error());
  say("{} frames in {} bursts. Review them at\n  {}\nCtrl-C ends this; what you have decided stays.\n",
      summary->frames, summary->bursts, (*server)->address());
  std::fflush(stdout);
  if (!review_settings.no_browser) open_in_browser((*server)->address());
  (*server)->run(stop);
  server->reset();
  if (const std::size_t open = (*review)->unwritten(); open > 0)
    complain("\nburstsieve: {} decision{} not in the sidecars yet: review the folder again and press Done\n",
             open, open == 1 ? "" : "s");
  return lost_output() ? kCannotRun : kDone;
}

}  // namespace burstsieve::tool
