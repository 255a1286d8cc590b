// What came in, what became of it and what failed, one line per event, for the morning summary. One ledger
// per watched folder, in the state folder; its lock's holder appends, anybody may read. A frame gets a new
// line only when it, its files or its verdict differ from what the ledger says: killed and restarted watchers
// repeat nothing.
//
// JSON Lines. A line cut short by a crash is dropped when the next watcher opens the ledger.
#pragma once
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/report/light.h"

namespace burstsieve::watch {

struct LedgerLine {
  enum class Kind { frame, failure, gone };
  std::int64_t number = 0;  // 1, 2, ... within the ledger
  std::int64_t at_ms = 0;   // since 1970
  Kind kind = Kind::frame;
  std::string path;                // of the frame's main file, or of what failed; made safe for one line
  std::vector<std::string> files;  // all of the frame's
  std::string identity;            // changes with the contents of the files
  std::string burst;               // the same for all frames of a burst
  std::string verdict;             // "keep", "reject", "undecided"
  std::optional<int> rating;
  std::string why;  // the deciding reason, or what failed
  // Of the burst's camera, the frame's time and its white plumage; absent in ledgers of older releases.
  std::string camera;
  std::optional<std::int64_t> time_ms;
  int utc_offset_minutes = 0;
  std::optional<report::FrameLight> light;
};

class Ledger {
 public:
  // `folder`: absolute, links resolved. Cause::io when the state folder refuses.
  static Result<Ledger> open(const std::string& state_folder, const std::string& folder);
  // Every line, for readers. An absent ledger is an empty one.
  static Result<std::vector<LedgerLine>> read(const std::string& state_folder, const std::string& folder);

  Ledger(Ledger&& other) noexcept;
  Ledger& operator=(Ledger&&) = delete;
  ~Ledger();

  Status frame(const FrameOutcome& frame, const std::string& burst, std::int64_t at_ms,
               const std::string& camera = {});
  Status failure(const std::string& file, const std::string& text, std::int64_t at_ms);
  // Of a frame that the ledger names by this file, or a file that failed; nothing happens otherwise.
  Status gone(const std::string& file, std::int64_t at_ms);
  // Everything appended so far is on the disk.
  Status sync();
  // Files of every frame that the ledger believes to be there.
  std::vector<std::string> files() const;

 private:
  Ledger() = default;
  Status append(LedgerLine line);
  void take(const LedgerLine& line);
  int fd_ = -1;
  std::string path_;
  std::int64_t last_ = 0;
  std::map<std::string, LedgerLine> live_;       // main file → the frame's last line
  std::map<std::string, std::string> main_of_;   // file → main file
  std::map<std::string, std::string> failures_;  // file → what its last failure said
};

// Which lines a summary has told already. 0 before the first.
struct Told {
  std::int64_t number = 0;
  std::int64_t at_ms = 0;
};
Told told_of(const std::string& state_folder, const std::string& folder);
Status set_told(const std::string& state_folder, const std::string& folder, const Told& told);

}  // namespace burstsieve::watch
