#include "watching.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>

#include "burstsieve/base/text.h"
#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
#include "burstsieve/watch/state.h"
#include "output.h"

namespace burstsieve::tool {
namespace {

std::atomic<bool> stop_asked{false};
std::atomic<watch::InotifyWaker*> sleeper{nullptr};

void on_signal(int) {
  stop_asked = true;
  if (watch::InotifyWaker* w = sleeper.load()) w->wake();
  std::signal(SIGINT, SIG_DFL);
  std::signal(SIGTERM, SIG_DFL);
}

}  // namespace

void add_watch_options(CLI::App& app, WatchSettings& s) {
  const char* group = "Watching";
  app.add_option("--settle", s.times.settle_s,
                 "A file is complete when its size and time stood still for this many seconds")
      ->capture_default_str()
      ->group(group);
  app.add_option("--quiet-time", s.times.quiet_s,
                 "A burst is complete when nothing new came into its folder for this many seconds")
      ->capture_default_str()
      ->group(group);
  app.add_option("--poll", s.times.poll_s, "Seconds between two looks at the folders")
      ->capture_default_str()
      ->group(group);
  app.add_option("--patience", s.times.patience_s,
                 "A file that reads as damaged is tried again when it is this many seconds old")
      ->capture_default_str()
      ->group(group);
  app.add_option(
         "--max-load", s.max_load,
         "Start no work while the one-minute load average, our own share included, is above this (0: no "
         "limit)")
      ->check(CLI::NonNegativeNumber)
      ->capture_default_str()
      ->type_name("LOAD")
      ->group(group);
  app.add_option("--nice", s.modesty.nice, "Priority, 0 (as started) to 19 (lowest)")
      ->check(CLI::Range(0, 19))
      ->capture_default_str()
      ->type_name("N")
      ->group(group);
  static const std::map<std::string, watch::DiskPriority> priorities{{"normal", watch::DiskPriority::normal},
                                                                     {"low", watch::DiskPriority::low},
                                                                     {"idle", watch::DiskPriority::idle}};
  app.add_option("--disk", s.modesty.disk,
                 "Disk priority (default: low; idle reads only when nobody else does)")
      ->transform(CLI::CheckedTransformer(priorities, CLI::ignore_case).description("{normal,low,idle}"))
      ->type_name("HOW")
      ->group(group);
}

// Looks only at folders that are the ones it has locked. A folder that comes back as another one (the next
// card, a share mounted again) is locked anew.
class Watching::Watched final : public watch::Lister {
 public:
  Watched(std::string command, std::string state, Clock& clock, int depth)
      : command_(std::move(command)), state_(std::move(state)), clock_(clock), inner_(depth) {}

  Status take(const std::string& place) {
    auto lock = watch::FolderLock::take(place, command_, state_, clock_);
    if (!lock) return lock.error();
    locks_.insert_or_assign(place, std::move(*lock));
    return Done{};
  }

  watch::Listing list(const std::vector<std::string>& places) override {
    std::vector<std::string> ours;
    std::vector<Error> errors;
    for (const std::string& place : places) {
      const auto lock = locks_.find(place);
      if (lock != locks_.end() && lock->second.still_there()) {
        ours.push_back(place);
        continue;
      }
      if (lock != locks_.end()) locks_.erase(lock);
      if (auto taken = take(place)) {
        ours.push_back(place);
      } else {
        errors.push_back({Cause::io, place, taken.error().text});
      }
    }
    watch::Listing out = inner_.list(ours);
    out.errors.insert(out.errors.end(), errors.begin(), errors.end());
    return out;
  }

 private:
  std::string command_, state_;
  Clock& clock_;
  watch::RealLister inner_;
  std::map<std::string, watch::FolderLock> locks_;
};

class Watching::Voice final : public watch::Observer {
 public:
  Voice(bool json, bool quiet) : json_(json), quiet_(quiet) {}

  void burst(const BurstOutcome& o) override {
    if (quiet_) return;
    say("{}\n", json_ ? report::burst_json(o) : report::burst_table(o));
    std::fflush(stdout);
  }
  void error(const Error& e) override {
    if (json_) say("{}\n", report::error_json(e));
    std::fflush(stdout);
    complain("burstsieve: {}\n", e.line());
  }
  void note(const std::string& line) override { complain("burstsieve: {}\n", one_line(line)); }

 private:
  bool json_, quiet_;
};

Watching::Watching() = default;

Watching::~Watching() {
  sleeper = nullptr;
}

const std::atomic<bool>& Watching::stop() const {
  return stop_asked;
}

Result<std::unique_ptr<Watching>> Watching::start(const Settings& settings, const WatchSettings& w,
                                                  const std::string& command) {
  const auto state = watch::state_folder();
  if (!state) return state.error();
  std::unique_ptr<Watching> out(new Watching);
  Watching& self = *out;
  self.lister_ =
      std::make_unique<Watched>(command, *state, self.clock_, settings.cull.limits.max_folder_depth);
  pipeline::CullOptions cull = settings.cull;
  for (std::string& place : cull.places) {
    // By one name, whatever the way that leads there today: the ledger knows frames by their paths, and a
    // link that is turned elsewhere must not lead to a folder that is not locked.
    const auto real = watch::real_folder(place);
    if (!real) return real.error();
    place = *real;
    if (auto taken = self.lister_->take(place); !taken) return taken.error();
    self.real_.push_back(place);
    auto ledger = watch::Ledger::open(*state, place);
    if (!ledger) return ledger.error();
    self.ledgers_.emplace(place, std::move(*ledger));
  }
  auto catalog = open_catalog(settings);
  if (!catalog) return catalog.error();
  self.catalog_.emplace(std::move(*catalog));
  self.waker_ = std::make_unique<watch::InotifyWaker>();
  self.voice_ = std::make_unique<Voice>(settings.json, settings.quiet);
  if (auto s = watch::be_modest(w.modesty); !s) self.voice_->note(s.error().text);
  sleeper = self.waker_.get();
  std::signal(SIGINT, on_signal);
  std::signal(SIGTERM, on_signal);
  const auto run = [&self](const pipeline::CullOptions& o, pipeline::Listener& listener,
                           const std::atomic<bool>* stop) {
    return pipeline::cull(o, *self.catalog_, self.fs_, self.clock_, listener, stop);
  };
  self.watcher_ = std::make_unique<watch::Watcher>(
      w.times, std::move(cull),
      watch::Surroundings{*self.lister_, *self.waker_, self.clock_, run,
                          [](const std::string& path) {
                            return ::access(path.c_str(), F_OK) == 0 || (errno != ENOENT && errno != ENOTDIR);
                          },
                          watch::load_average, w.max_load, settings.cull.dry_run ? nullptr : &self.ledgers_},
      *self.voice_);
  return out;
}

}  // namespace burstsieve::tool
