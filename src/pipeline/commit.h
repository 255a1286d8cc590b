// The end of the flow: verdicts and sidecars of one finished burst.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/pipeline/review.h"

namespace burstsieve::pipeline {

// Writes the sidecars of the frames of a burst, tells the listener what failed, remembers what a person said.
// Each change is in the catalogue's journal before it is made: planned together, so that a burst costs two
// transactions and not two per sidecar.
class SidecarDesk {
 public:
  // `run`: from Catalog::record_run; its changes are journalled under this number.
  SidecarDesk(const CullOptions& options, FileSystem& fs, Catalog& catalog, Clock& clock, Listener& listener,
              RunSummary& summary, std::int64_t run)
      : options_(options),
        fs_(fs),
        catalog_(catalog),
        clock_(clock),
        listener_(listener),
        summary_(summary),
        run_(run) {}
  // Plans the frame's sidecars. `outcome` must stay where it is until flush(). `word`: what the photographer
  // told us of it.
  void write(FrameOutcome& outcome, const PersonsWord& word = {});
  // What a person said of this frame in any of its sidecars; nothing when they said nothing or a sidecar
  // can't be read.
  std::optional<HumanRating> human_word(const Frame& frame);
  // Makes the planned changes; the outcomes are right only after this.
  void flush();

 private:
  struct Pending {
    FrameOutcome* outcome;
    std::size_t line;  // in outcome->sidecars
    SidecarPlan plan;
    std::string photograph;
  };
  Result<std::vector<SidecarPlace>> places_of(const Frame& named);
  void tidy(const SidecarPlace& place);
  bool claimed(const SidecarPlace& place, const Frame& named, FrameOutcome& outcome);
  void write_one(const Frame& named, FrameOutcome& outcome, const PersonsWord& word);
  void plan_one(const SidecarPlace& place, const std::string& photograph, const SidecarEntry& entry,
                FrameOutcome& outcome);
  Status apply(const Pending& planned);
  Result<std::int64_t> journal(const std::vector<Pending>& batch);
  void count(SidecarChange change);
  void note_override(const FrameOutcome& outcome, const HumanRating& human);
  void fail(const Error& error);

  const CullOptions& options_;
  FileSystem& fs_;
  Catalog& catalog_;
  Clock& clock_;
  Listener& listener_;
  RunSummary& summary_;
  std::int64_t run_;
  std::vector<Pending> pending_;
  std::set<std::string> pending_paths_;
  std::set<std::string> tidied_;  // folders
  FolderNamings namings_;
  std::map<std::string, std::string> owners_;  // sidecar → the photograph it belongs to in this run
  std::size_t pending_bytes_ = 0;
};

}  // namespace burstsieve::pipeline
