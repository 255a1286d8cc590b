// Moving rejected frames out of the way, and back. docs/set-aside.md says what a photographer may rely on.
#pragma once
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <set>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/group/bursts.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/pipeline/engine_process.h"

namespace burstsieve::pipeline {

// The record of everything that was moved, in the folder it was moved to.
inline constexpr const char* kSetAsideManifest = "set-aside.jsonl";

struct SetAsideOptions {
  std::string dir;                  // where the frames go; made when it is missing
  std::vector<std::string> places;  // what was culled; empty: the places of the last culling run
  std::string sidecars;             // the folder that sidecars were written to; empty: beside the photographs
  bool dry_run = false;             // only look
  group::BurstOptions bursts;       // as for the culling run
  Limits limits;
  EngineOptions engine;  // where photographs are looked at
};

struct AsideFile {
  std::string from, to;
  std::uint64_t size = 0;  // bytes
  bool sidecar = false;
};

// A frame that was moved, or would be.
struct AsideFrame {
  std::string name;  // its main file, where it was before
  std::string by;    // who rejected it: "person" or "burstsieve"
  std::vector<AsideFile> files;
};

struct SetAsideSummary {
  std::int64_t run = 0;      // in the catalogue; 0: not recorded
  std::size_t seen = 0;      // frames looked at; on the way back: frames in the manifest that are set aside
  std::size_t frames = 0;    // moved, or in a dry run: that would be
  std::size_t files = 0;     // of these
  std::uint64_t bytes = 0;   // of these
  std::size_t theirs = 0;    // stay because a person's rating says so
  std::size_t spared = 0;    // rejected, but the last of their burst
  std::size_t refused = 0;   // rejected, but could not be moved; each has its error
  std::size_t changed = 0;   // files that were changed while they were set aside
  std::size_t gone = 0;      // files that are no longer where they were set aside
  std::size_t finished = 0;  // moves that an earlier run had left half done, and are settled now
  std::size_t errors = 0;    // told, those of `refused` included
  bool dry_run = false;
  bool stopped = false;
};

class SetAsideListener {
 public:
  virtual ~SetAsideListener() = default;
  virtual void folders(const std::vector<std::string>& places, bool from_catalogue) = 0;
  virtual void frame(const AsideFrame& frame) = 0;
  // Something about one file that is no failure: it stays, it was changed, it is gone.
  virtual void note(const std::string& path, const std::string& text) = 0;
  virtual void error(const Error& error) = 0;
};

// Scans, forms bursts as cull() does, and moves every frame whose sidecars say reject at this moment.
// Whatever an earlier call left half done is settled first. One frame that can't be moved is one error told;
// an Error comes back when the run as a whole can't be done: a DIR that overlaps a culled folder, a manifest
// that is not ours or damaged, a place that can't be found. May be killed at any moment and repeated. `stop`
// ends it after the frame at hand.
Result<SetAsideSummary> set_aside(const SetAsideOptions& options, Catalog& catalog, FileSystem& fs,
                                  Clock& clock, SetAsideListener& listener,
                                  const std::atomic<bool>* stop = nullptr);

// Where things are, with every link resolved.
struct SetAsideJob {
  struct Root {
    std::string path;    // a culled folder
    std::string prefix;  // where its tree goes below `dir`: empty, or a name and a slash
  };
  std::string dir;
  std::vector<Root> roots;
  std::string sidecars;
  std::set<std::string> linked;  // folders that were reached through a link below a root
  std::int64_t run = 0;
  bool dry_run = false;
};

// Takes back what an earlier call was at when it was stopped, so that every frame is wholly at one place or
// the other. Part of set_aside() and set_back(). A dry run only says how many there are.
Status settle_set_aside(const std::string& dir, FileSystem& fs, Clock& clock, SetAsideListener& listener,
                        SetAsideSummary& summary);

// The part of set_aside() after scanning: moves the rejected frames of these bursts.
Result<SetAsideSummary> set_aside_bursts(const SetAsideJob& job, const std::vector<Burst>& bursts,
                                         FileSystem& fs, Clock& clock, SetAsideListener& listener,
                                         const std::atomic<bool>* stop = nullptr);

// Puts every frame that is set aside in `dir` back to where it was. A frame stays in `dir`, with an error,
// when something stands at the old place of one of its files, or the culled folder itself is not there.
// Cause::unsupported when `dir` holds no manifest. `run`: the number to record, 0 for none.
Result<SetAsideSummary> set_back(const std::string& dir, bool dry_run, std::int64_t run, FileSystem& fs,
                                 Clock& clock, SetAsideListener& listener,
                                 const std::atomic<bool>* stop = nullptr);

}  // namespace burstsieve::pipeline
