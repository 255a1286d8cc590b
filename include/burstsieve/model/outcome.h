// What a run tells the world, frame by frame and as a whole.
#pragma once
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve {

struct SidecarLine {
  std::string path;
  std::string change;        // "created", "updated", "unchanged", "human", "failed"
  std::string human_rating;  // for "human": what the photographer set; "cleared" when they took ours away
  bool operator==(const SidecarLine&) const = default;
};

struct FrameOutcome {
  Frame frame;
  FrameFacts facts;
  FrameVerdict verdict;
  std::vector<SidecarLine> sidecars;
};

struct BurstOutcome {
  int number = 0;  // 1-based, in order of time
  std::string camera;
  std::vector<FrameOutcome> frames;
  bool remembered = false;  // measures came from the catalogue
};

struct ScanCounts {
  std::size_t raw = 0, jpeg = 0;
  std::size_t sidecars = 0;  // .xmp
  std::size_t other = 0;     // not a photograph we read
  std::size_t hidden = 0;    // names beginning with a dot
  std::size_t empty = 0;     // zero-length files
  std::size_t repeated = 0;  // reached again through a link
  std::size_t waiting = 0;   // not ready yet: still being copied, perhaps
  std::size_t folders = 0;
  bool operator==(const ScanCounts&) const = default;
};

struct RunSummary {
  ScanCounts scan;
  std::size_t bursts = 0, frames = 0, pairs = 0, copies = 0;
  std::size_t keep = 0, reject = 0, undecided = 0, damaged = 0;
  std::size_t spare = 0;       // of the undecided: as good as a kept frame of the same pose, or beyond --keep
  std::size_t measured = 0;    // frames decoded in this run
  std::size_t remembered = 0;  // frames whose measures came from the catalogue
  std::size_t mosaics = 0;     // raw mosaics read
  std::size_t created = 0, updated = 0, unchanged = 0, human = 0;  // sidecars
  std::size_t errors = 0;
  bool dry_run = false;
  std::string detector;           // the subject detector at work; empty: none
  bool detector_missing = false;  // one was wanted, and could not be had
  std::string profile;            // whose learnt or imported preferences chose the keeps; empty: the defaults
  std::size_t learnt_from = 0;    // ratings they were learnt from; 0: imported
};

}  // namespace burstsieve
