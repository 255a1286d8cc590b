// What `watch` and `nightly` share.
#pragma once
#include <atomic>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/watch/lock.h"
#include "burstsieve/watch/modest.h"
#include "burstsieve/watch/watcher.h"
#include "settings.h"

namespace burstsieve::tool {

struct WatchSettings {
  watch::WatchOptions times;
  watch::Modesty modesty;
  double max_load = 0;
};

void add_watch_options(CLI::App& app, WatchSettings& settings);

// Everything a watcher stands on. Build it, then run `watcher`.
class Watching {
 public:
  // Takes the locks, opens catalogue and ledgers, lowers the priority. SIGINT and SIGTERM end the run after
  // the frames in flight from here on.
  static Result<std::unique_ptr<Watching>> start(const Settings& settings, const WatchSettings& watch,
                                                 const std::string& command);
  ~Watching();
  Watching(const Watching&) = delete;
  Watching& operator=(const Watching&) = delete;

  watch::Watcher& watcher() { return *watcher_; }
  Catalog& catalog() { return *catalog_; }
  const std::atomic<bool>& stop() const;
  const std::vector<std::string>& real_folders() const { return real_; }

 private:
  class Watched;
  class Voice;
  Watching();
  SystemClock clock_;
  RealFileSystem fs_;
  std::optional<Catalog> catalog_;
  std::map<std::string, watch::Ledger> ledgers_;
  std::vector<std::string> real_;
  std::unique_ptr<watch::InotifyWaker> waker_;
  std::unique_ptr<Watched> lister_;
  std::unique_ptr<Voice> voice_;
  std::unique_ptr<watch::Watcher> watcher_;
};

}  // namespace burstsieve::tool
