// The loop: look, decide, cull, sleep.
#pragma once
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/result.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/watch/ledger.h"
#include "burstsieve/watch/listing.h"
#include "burstsieve/watch/options.h"
#include "burstsieve/watch/tracker.h"
#include "burstsieve/watch/waker.h"

namespace burstsieve::watch {

// What the outside world hears. Called from one thread at a time.
class Observer {
 public:
  virtual ~Observer() = default;
  virtual void burst(const BurstOutcome& outcome) = 0;
  // A file or folder that failed. Told once until it fails for another reason.
  virtual void error(const Error& error) = 0;
  // What goes on: a folder gone or back, waiting for a quiet machine.
  virtual void note(const std::string& line) = 0;
};

// Everything the loop touches, for tests to replace.
struct Surroundings {
  Lister& lister;
  Waker& waker;
  Clock& clock;
  // pipeline::cull() over a catalogue.
  std::function<Result<RunSummary>(const pipeline::CullOptions&, pipeline::Listener&,
                                   const std::atomic<bool>*)>
      cull;
  std::function<bool(const std::string& path)> exists;  // false: certainly nothing is there
  std::function<std::optional<double>()> load;          // empty: no load limit
  double max_load = 0;                                  // of the one-minute average; 0: none
  std::map<std::string, Ledger>* ledgers = nullptr;     // by place
};

struct WatchTotals {
  std::size_t looks = 0, passes = 0, bursts = 0, frames = 0, errors = 0;
  std::vector<std::string> left;  // run_once(): files still changing at the end
};

class Watcher {
 public:
  // `cull.places`: folders. Its hooks are the watcher's.
  Watcher(WatchOptions options, pipeline::CullOptions cull, Surroundings surroundings, Observer& observer);

  // Until `stop`. Ends after the frames in flight.
  WatchTotals run(const std::atomic<bool>& stop);
  // Until everything there is culled, or `max_wait_ms` are over; then what has settled is culled without
  // waiting for quiet folders. What still changes stays for another time.
  WatchTotals run_once(const std::atomic<bool>& stop, std::int64_t max_wait_ms);

 private:
  class Pass;
  void look();
  void note_folders(const Listing& listing);
  void note_gone(const Listing& listing);
  bool overloaded();
  // True when a pass ran to its end.
  bool work(bool hurry, const std::atomic<bool>& stop);
  bool one_round(const std::atomic<bool>& stop);
  void tell(const Error& error, bool final);
  void sleep(std::int64_t longest_ms);
  Ledger* ledger_of(const std::string& path);
  void keep(const Status& status);

  WatchOptions options_;
  pipeline::CullOptions cull_;
  Surroundings around_;
  Observer& observer_;
  Tracker tracker_;
  WatchTotals totals_;
  std::map<std::string, std::string> told_;  // file → its last error
  std::set<std::string> away_;               // folders that can't be read
  std::vector<std::string> present_;         // places that can
  bool first_look_ = true, busy_told_ = false;
  int failed_passes_ = 0;
  std::int64_t not_before_ms_ = 0, look_cost_ms_ = 0;
  std::set<std::string> listed_;  // of the last look, for the ledgers
};

}  // namespace burstsieve::watch
