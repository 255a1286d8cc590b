// The end of the flow: verdicts and sidecars of one finished burst.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/pipeline/cull.h"

namespace burstsieve::pipeline {

// The policy's view of a burst.
std::vector<rank::Contender> contenders(const std::vector<Frame>& frames,
                                        const std::vector<FrameFacts>& facts,
                                        const group::PoseOptions& options);

// Writes the sidecars of every frame of `burst`, tells the listener what failed, remembers what a person
// said.
class SidecarDesk {
 public:
  SidecarDesk(const CullOptions& options, FileSystem& fs, Catalog& catalog, Clock& clock, Listener& listener,
              RunSummary& summary)
      : options_(options),
        fs_(fs),
        catalog_(catalog),
        clock_(clock),
        listener_(listener),
        summary_(summary) {}
  void write(FrameOutcome& outcome);

 private:
  void write_one(const Frame& named, FrameOutcome& outcome);
  void note_override(const FrameOutcome& outcome, const HumanRating& human);
  void fail(const Error& error);

  const CullOptions& options_;
  FileSystem& fs_;
  Catalog& catalog_;
  Clock& clock_;
  Listener& listener_;
  RunSummary& summary_;
};

}  // namespace burstsieve::pipeline
