// What earlier runs learnt and changed: measures, verdicts, a person's corrections and the journal of
// sidecars, in one SQLite file.
//
// Everything but the overrides, imported preferences and the journal can be computed again; nothing in it is
// needed to read the photographs or the sidecars. Write-ahead log, synchronous=FULL: what a store_ or record_
// function has acknowledged survives a killed process and a power cut; a burst is stored whole or not at all.
// One thread uses a Catalog; other processes may use the same file (a writer waits up to 10 s for them). Not
// for network shares: SQLite's write-ahead log needs shared memory.
//
// Paths are stored absolute and normalised (".." and "." resolved in the text); relative ones count from the
// current folder.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"
#include "burstsieve/rank/learning.h"

namespace burstsieve {

struct FileCapture {
  FileRef file;
  Capture capture;
};

struct RunCounts {
  std::int64_t frames = 0;
  std::int64_t bursts = 0;
  std::int64_t keeps = 0;
  std::int64_t undecided = 0;
  std::int64_t rejects = 0;
  std::int64_t damaged = 0;
  bool operator==(const RunCounts&) const = default;
};

struct Run {
  std::int64_t id = 0;  // given by the catalogue; higher is later
  std::int64_t started_ms = 0;
  std::int64_t ended_ms = 0;  // 0: still going on, or killed
  std::string folder;         // as the user named it
  std::string options;        // as the caller wrote them down
  std::string version;        // release that ran
  RunCounts counts;
  bool operator==(const Run&) const = default;
};

// A run and what became of the sidecars it changed.
struct RunHistory {
  Run run;
  std::int64_t changed = 0;  // sidecars
  std::int64_t undone = 0;   // of `changed`
  std::int64_t planned = 0;  // announced, and nobody knows whether the change happened: the run was killed
  bool forgotten = false;    // its journal is no longer kept: it can't be undone; the numbers are its last
  bool operator==(const RunHistory&) const = default;
};

// How long the journal is kept. It is forgotten run by run, the oldest first, when a run ends.
struct JournalLimits {
  std::int64_t days = 90;  // >= 0: what is younger stays...
  std::int64_t runs = 20;  // >= 1: ...and so do this many runs, the last that changed something
  std::int64_t bytes = std::int64_t{1}
                       << 30;  // >= 0: but the oldest go until their old sidecars need no more
  // Whatever the other limits say, the last run that changed something stays, and so does what is younger
  // than this: it may belong to a run that still goes on, or to one that was killed and continued.
  std::int64_t hours_always = 24;  // >= 0
};

// A sidecar that is about to be replaced.
struct PlannedChange {
  std::string path;
  std::optional<Bytes> before;  // nothing when there is no file yet; must live during the call
  std::uint64_t wrote = 0;      // contents_sum() (sidecar/restore.h) of the bytes that will stand there
};

// One line of the journal.
struct JournalEntry {
  std::int64_t run = 0;
  std::int64_t sequence = 0;  // 1.. within the run, in the order of the changes
  std::string path;           // absolute, with the links among its folders resolved
  std::optional<ByteBuffer> before;
  bool before_damaged = false;  // `before` is not what was stored, and empty
  std::uint64_t wrote = 0;
  std::int64_t at_ms = 0;
  bool done = false;  // false: planned; the sidecar may be as before or as we meant it
  bool operator==(const JournalEntry&) const = default;
};

struct PathVerdict {
  std::string path;  // of the frame's main file
  FrameVerdict verdict;
};

// A person's rating where we had, or would have, another.
struct Override {
  std::string path;             // of the frame's main file
  std::optional<int> ours;      // the rating we had written; nothing when we had written none
  std::optional<double> human;  // nothing when cleared, or no number
  std::string human_text;       // as it stood in the sidecar; empty when cleared
  std::int64_t at_ms = 0;       // when we saw it
  bool operator==(const Override&) const = default;
};

// Whose taste it is, where several people share a catalogue.
inline constexpr const char* kDefaultProfile = "default";
// 1 to 64 letters, digits, '-', '_' and '.'.
bool is_profile_name(std::string_view name);

struct NumberedOverride {
  std::int64_t id = 0;  // higher is later
  Override entry;
  bool judged = false;  // a run of ours had ended with a verdict on the frame when this was seen
};

// What the overrides of a profile taught.
struct PreferenceProfile {
  std::string name;
  rank::Learnt learnt;
  std::int64_t learnt_ms = 0;
  std::int64_t last_override = 0;  // id of the last that was looked at
  std::int64_t forgotten_to = 0;   // ids up to this one count no more: the profile was reset
  bool imported = false;           // learnt.base came from a file
};

// What a run with this profile goes by: what was learnt when it is in use, else what was imported, else
// nothing.
std::optional<rank::Weights> weights_in_use(const PreferenceProfile& profile);

// A burst as it was measured last, by whatever engine version.
struct StoredBurst {
  std::vector<std::string> paths;  // of the main files, in order of the burst
  std::vector<FrameFacts> facts;
};

// What the photographer said of one frame on the review page.
struct ReviewChoice {
  std::string path;                // of the frame's main file
  std::uint64_t fingerprint = 0;   // of that file: card and camera use names again
  std::optional<Verdict> verdict;  // nothing: what was said before is taken back
  std::optional<int> rating;       // 1..5, with keep only
  std::string seen;                // the ratings of persons that its sidecars held then, a line each
  bool operator==(const ReviewChoice&) const = default;
};

// One thing the photographer did there. Steps are only ever added: to undo is a step, too.
struct ReviewStep {
  enum class Kind { decide, undo, redo };
  Kind kind = Kind::decide;
  std::int64_t at_ms = 0;
  std::vector<ReviewChoice> choices;  // of decide; each path once
  bool operator==(const ReviewStep&) const = default;
};

// A person's rating that we wrote into a sidecar in their name.
struct WrittenWord {
  std::string path;  // of the frame's main file
  std::uint64_t fingerprint = 0;
  std::string said;  // as xmp:Rating; empty: none
  bool operator==(const WrittenWord&) const = default;
};

// The latest that is known about one frame.
struct Explained {
  std::string path;  // as stored
  std::optional<FrameFacts> facts;
  std::optional<FrameVerdict> verdict;
  std::optional<Run> run;  // that gave the verdict
};

// Identifies a burst by its frames' files (path, size, time, fingerprint), their order, the engine, and the
// subject detector it worked with (empty: none).
std::string burst_key(std::span<const Frame> frames, int engine_version, const std::string& detector = {});

// $XDG_DATA_HOME/burstsieve/catalog.sqlite, or ~/.local/share/... (XDG Base Directory Specification 0.8: a
// relative $XDG_DATA_HOME is ignored). Cause::io when neither variable helps.
Result<std::string> default_catalog_path();

class Catalog {
 public:
  // Opens or creates; a missing folder is made with mode 700, the file with mode 600. Records of another
  // engine version count as absent. Cause::corrupt for a file that is not ours (left untouched) or damaged,
  // Cause::unsupported for one of a newer release, Cause::io when the system refuses.
  static Result<Catalog> open(const std::string& path, int engine_version);
  Catalog(Catalog&&) noexcept;
  Catalog& operator=(Catalog&&) noexcept;
  ~Catalog();

  // Look-ups. A record that is damaged or can't be read is absent, and a note says so.
  std::optional<Capture> capture_of(const FileRef& file);
  // In the order of store_burst; all frames or nothing.
  std::optional<std::vector<FrameFacts>> burst_facts(const std::string& key);
  std::optional<Explained> explain(const std::string& path);
  std::vector<Override> overrides();  // oldest first
  // Of one profile, oldest first.
  std::vector<NumberedOverride> overrides_of(const std::string& profile);
  std::optional<PreferenceProfile> preferences(const std::string& profile);
  std::vector<std::string> preference_profiles();  // that have learnt something, by name
  // Keys of the bursts with a frame in this very folder up to `last`, by the paths of their first frames.
  std::vector<std::string> bursts_up_to(const std::string& last);
  std::optional<StoredBurst> stored_burst(const std::string& key);
  std::vector<Run> runs();  // oldest first
  // Of the frames under `folder` (or all, when empty), by path.
  std::vector<PathVerdict> verdicts_below(const std::string& folder);

  // One transaction each: all of it or nothing. Cause::io or corrupt, naming the catalogue.
  Status store_captures(std::span<const FileCapture> captures);
  // facts[i] belongs to frames[i]. Replaces bursts that share a main file with this one.
  Status store_burst(const std::string& key, std::span<const Frame> frames,
                     std::span<const FrameFacts> facts);
  // The run's id; `run.id` is ignored.
  Result<std::int64_t> record_run(const Run& run);
  // Also forgets what is too old in the journal, by the default limits.
  Status finish_run(std::int64_t run, std::int64_t ended_ms, const RunCounts& counts);
  // Replaces earlier verdicts of the same paths. `run`: from record_run.
  Status record_verdicts(std::int64_t run, std::span<const PathVerdict> verdicts);
  // Appends, unless the last entry of this path says the same.
  Status record_override(const Override& entry, const std::string& profile = kDefaultProfile);
  // Replaces what the profile had.
  Status store_preferences(const PreferenceProfile& profile);

  // The journal. Unlike other records it is kept for every engine version; errors are not notes here, since
  // an undo must not take a line that can't be read for one that isn't there.
  // Before the first of `changes` is made; the sequence number of the first, the others follow it.
  Result<std::int64_t> plan_changes(std::int64_t run, std::span<const PlannedChange> changes,
                                    std::int64_t at_ms);
  // Afterwards: which were made, and which certainly were not (those are forgotten).
  Status changes_done(std::int64_t run, std::span<const std::int64_t> made,
                      std::span<const std::int64_t> never_made);
  // The latest change of the run with a sequence number below `below` that is not undone.
  Result<std::optional<JournalEntry>> change_before(std::int64_t run, std::int64_t below);
  // The run with the latest change of this path that was planned after `entry` (whichever run began first),
  // happened, and is not undone.
  Result<std::optional<std::int64_t>> run_that_changed_after(const JournalEntry& entry);
  // `changed`: the file had been changed and is as before now. False: it was as before already.
  Status mark_undone(const JournalEntry& entry, bool changed);
  // The last run that changed a sidecar, or may have when it was killed.
  Result<std::optional<std::int64_t>> last_run_with_changes();
  // Forgets the journal of old runs; runs, verdicts and measures stay. The file does not shrink: the space
  // is used again.
  Status forget_old_changes(const JournalLimits& limits, std::int64_t now_ms);
  // True: the run's journal is no longer kept.
  Result<bool> is_forgotten(std::int64_t run);
  // Every run, oldest first.
  std::vector<RunHistory> history();

  // The review, for every engine version. Errors are no notes here: a decision must not be taken for one that
  // was never made.
  // When this returns the step is on the disk. `folder` tells apart the histories of what is undone.
  Status record_review_step(const std::string& folder, const ReviewStep& step);
  Result<std::vector<ReviewStep>> review_steps(const std::string& folder);  // oldest first
  // Replaces what was recorded of the same paths.
  Status record_written(std::span<const WrittenWord> words);
  Result<std::optional<WrittenWord>> written_word(const std::string& path);

  // The stored thumbnail (JPEG) of the frame with this main file; nothing when there is none.
  std::optional<ByteBuffer> thumbnail_of(const std::string& path);

  // What went wrong in look-ups since the last call, one line each, at most 100.
  std::vector<std::string> take_notes();

 private:
  struct Impl;
  explicit Catalog(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace burstsieve
