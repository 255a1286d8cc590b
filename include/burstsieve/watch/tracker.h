// What is known of every file of the watched folders, and what is to be culled when. Pure: it is told what a
// look at the folders showed, what the clock says and what a pass brought, and touches nothing itself.
//
// A file goes  seen -> settling -> ready -> culled.  Any change of its size or time sends it back to
// settling; so does the arrival, change or loss of a frame that belongs into its burst, for the burst's sake.
// Only the steady clock and the difference between two looks count: the times of files and of the machine may
// be wrong.
//
// A pass opens only the files that are new, and those whose verdicts they may change: neighbours in time of
// the same camera, files of the same name beside them, copies. So what a folder's sidecars say in the end
// does not depend on the order of arrival, and a pass over an old archive costs no more than what came in.
#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <unordered_map>
#include <unordered_set>
#include <utility>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/group/bursts.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/watch/listing.h"
#include "burstsieve/watch/options.h"

namespace burstsieve::watch {

enum class FileState { settling, ready, culled };

class Tracker {
 public:
  Tracker(const WatchOptions& options, const group::BurstOptions& bursts);

  // One look. Times are Clock::steady_ms().
  void observe(const Listing& listing, std::int64_t now_ms);

  // Chooses the files of a pass. False: nothing is to be done now. `hurry`: quiet folders are not waited for.
  bool begin_pass(std::int64_t now_ms, bool hurry);
  // The hooks of pipeline::CullOptions during a pass.
  bool file_ready(const std::string& path, std::uint64_t size, std::int64_t mtime_ns);
  bool burst_ready(const Burst& burst);
  // What the pass said.
  void outcome(const BurstOutcome& burst);
  void failed(const Error& error);
  // `whole`: it ran to its end. True when another round is needed at once: new frames belong into bursts
  // whose other files were not among the pass's. Then the hooks answer for the next round.
  bool end_pass(std::int64_t now_ms, bool whole);

  // Milliseconds until something may be due without any change seen; nothing when all is done.
  std::optional<std::int64_t> next_due(std::int64_t now_ms) const;

  std::optional<FileState> state_of(const std::string& path, std::int64_t now_ms) const;
  // Files present that are neither culled, nor failed, nor found to be no photographs, in order.
  std::vector<std::string> waiting() const;
  // Nothing waits but files that failed and are too old to mend by themselves.
  bool nothing_but_failures(std::int64_t now_ms) const;
  // True when a file still reads as damaged but is too young to be given up. Its failure is not final.
  bool may_mend(const std::string& path, std::int64_t now_ms) const;
  std::size_t files() const { return files_.size(); }

 private:
  struct Known {  // learnt when a pass read it
    std::string camera;
    std::optional<std::int64_t> time_ms;
    std::uint64_t size = 0, fingerprint = 0;
    bool counts = false;  // the camera's sequence counter was seen counting here
  };
  struct File {
    std::uint64_t size = 0;
    std::int64_t mtime_ns = 0;
    std::int64_t arrived_ms = 0, changed_ms = 0, not_before_ms = 0;
    std::uint64_t round = 0;  // of the last look that showed it
    int attempts = 0;
    bool present = true;
    bool done = false;
    bool failing = false;
    bool recheck = false;  // judged, but what stood between its burst and the next is gone
    std::int64_t burst = 0;
    std::optional<Known> known;
  };
  struct KnownBurst {
    std::string camera;
    std::vector<std::string> paths;
    std::int64_t reach_ms = 0;
  };
  using Paths = std::set<std::string>;

  void seen(const FileSeen& file, std::int64_t now_ms);
  void settle_absent(const Listing& listing, std::int64_t now_ms);
  void forget(const std::string& path, File& file);
  void dissolve(std::int64_t burst);
  void recheck_around(const std::string& path, const File& file);
  bool settled(const File& f, std::int64_t now_ms) const;
  bool quiet(const std::string& path, std::int64_t now_ms) const;
  std::int64_t quiet_at(const std::string& path) const;
  bool candidate(const std::string& path, const File& f, std::int64_t now_ms, bool hurry) const;
  void select(const std::string& path);
  void select_burst_of(const std::string& path);
  void select_beside(const std::string& path);
  void learn(const Burst& burst);
  void learn_file(const FileRef& ref, const Frame& frame, const std::string& camera);
  bool unchanged(const Paths& paths) const;
  Paths neighbours(const Burst& burst) const;
  std::int64_t reach_of(const Burst& burst) const;
  void counter_seen(const std::string& camera, const std::string& path);
  void retry(File& f);
  void frame_done(const FrameOutcome& frame);

  WatchOptions options_;
  group::BurstOptions bursts_options_;
  std::unordered_map<std::string, File> files_;
  std::unordered_map<std::string, std::int64_t> activity_;  // folder → last arrival or change
  std::unordered_map<std::string, Paths> beside_;           // folder/stem → files
  std::set<std::pair<std::int64_t, std::string>> by_time_;  // of known files
  std::multimap<std::uint64_t, std::string> by_fingerprint_;
  std::map<std::int64_t, KnownBurst> bursts_;
  std::map<std::string, std::int64_t> reach_;    // camera → the longest reach of its bursts
  std::map<std::string, std::string> counting_;  // camera → a file that shows its counter counting
  std::uint64_t round_ = 0;
  std::int64_t next_burst_ = 0;

  // The pass.
  std::int64_t pass_ms_ = 0;
  bool hurry_ = false;
  int rounds_ = 0;
  std::int64_t burst_before_ = 0;  // the last one known when the pass began
  std::unordered_set<std::string> selected_, candidates_, offered_, learnt_, failed_, held_;
  Paths deferred_, needed_;
};

}  // namespace burstsieve::watch
