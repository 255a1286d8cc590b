#include "burstsieve/pipeline/cull.h"

#include <tbb/global_control.h>
#include <tbb/parallel_pipeline.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include "burstsieve/base/version.h"
#include "burstsieve/image/process.h"
#include "burstsieve/pipeline/frame_work.h"
#include "burstsieve/pipeline/scan.h"
#include "commit.h"
#include "metadata.h"

namespace burstsieve::pipeline {
namespace {

// A burst on its way from its last measured frame to its sidecars.
struct FinishedBurst {
  std::size_t index = 0;
  std::vector<FrameFacts> facts;
  std::size_t mosaics = 0;
  bool remembered = false;
  bool passing = false;  // something may go right next time: report it, don't remember it
};

// One frame, or a whole burst that the catalogue knows, between two stages.
struct Item {
  std::size_t burst = 0, frame = 0;
  std::unique_ptr<FrameWork> work;
  std::optional<FrameFacts> facts;
  std::unique_ptr<FinishedBurst> known;
  bool passing = false;  // FrameWork::passing_failure()
};
using ItemPtr = std::shared_ptr<Item>;  // the flow copies its tokens
using BurstPtr = std::shared_ptr<FinishedBurst>;

class Flow {
 public:
  Flow(const CullOptions& options, const std::vector<Burst>& bursts, Catalog& catalog, FileSystem& fs,
       Clock& clock, Listener& listener, RunSummary& summary, std::int64_t run, const std::atomic<bool>* stop)
      : options_(options),
        bursts_(bursts),
        catalog_(catalog),
        listener_(listener),
        summary_(summary),
        stop_(stop),
        desk_(options, fs, catalog, clock, listener, summary, run) {
    for (const Burst& b : bursts_) total_ += b.frames.size();
  }

  void run(std::size_t in_flight) {
    using tbb::filter_mode;
    tbb::parallel_pipeline(
        in_flight,
        tbb::make_filter<void, ItemPtr>(filter_mode::serial_in_order, [this](tbb::flow_control& fc) {
          return next(fc);
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::parallel, [this](ItemPtr i) {
          return decoded(std::move(i));
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::serial_in_order, [this](ItemPtr i) {
          return followed(std::move(i));
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::parallel, [this](ItemPtr i) {
          return measured(std::move(i));
        }) & tbb::make_filter<ItemPtr, BurstPtr>(filter_mode::serial_in_order, [this](ItemPtr i) {
          return collected(std::move(i));
        }) & tbb::make_filter<BurstPtr, BurstPtr>(filter_mode::parallel, [this](BurstPtr b) {
          return highlighted(std::move(b));
        }) & tbb::make_filter<BurstPtr, void>(filter_mode::serial_in_order, [this](BurstPtr b) {
          commit(std::move(b));
        }));
  }

  std::vector<PathVerdict> take_verdicts() { return std::move(verdicts_); }

 private:
  const Frame& frame_of(const Item& i) const { return bursts_[i.burst].frames[i.frame]; }

  ItemPtr next(tbb::flow_control& fc) {
    if (burst_ >= bursts_.size() || (stop_ && stop_->load())) {
      fc.stop();
      return nullptr;
    }
    auto item = std::make_shared<Item>();
    item->burst = burst_;
    if (frame_ == 0) item->known = remembered(burst_);
    item->frame = frame_++;
    if (item->known || frame_ >= bursts_[burst_].frames.size()) {
      frame_ = 0;
      ++burst_;
    }
    return item;
  }

  std::unique_ptr<FinishedBurst> remembered(std::size_t burst) {
    const std::lock_guard lock(catalog_mutex_);
    auto facts = catalog_.burst_facts(burst_key(bursts_[burst].frames, kEngineVersion));
    if (!facts || facts->size() != bursts_[burst].frames.size()) return nullptr;
    return std::make_unique<FinishedBurst>(FinishedBurst{burst, std::move(*facts), 0, true, false});
  }

  ItemPtr decoded(ItemPtr i) const {
    if (!i->known) i->work = FrameWork::decoded(frame_of(*i), options_.limits);
    return i;
  }

  ItemPtr followed(ItemPtr i) {
    if (i->known) return i;
    if (i->frame == 0) trail_ = {};
    i->work->follow(trail_);
    return i;
  }

  ItemPtr measured(ItemPtr i) const {
    if (i->known) return i;
    i->facts = i->work->measured(frame_of(*i));
    i->passing = i->work->passing_failure();
    i->work.reset();
    return i;
  }

  BurstPtr collected(ItemPtr i) {
    if (i->known) {
      tell_progress(bursts_[i->burst].frames.size());
      return std::move(i->known);
    }
    tell_progress(1);
    ++summary_.measured;
    gathered_.push_back(std::move(*i->facts));
    gathered_passing_ = gathered_passing_ || i->passing;
    if (gathered_.size() < bursts_[i->burst].frames.size()) return nullptr;
    return std::make_shared<FinishedBurst>(FinishedBurst{i->burst, std::exchange(gathered_, {}), 0, false,
                                                         std::exchange(gathered_passing_, false)});
  }

  void tell_progress(std::size_t frames) {
    done_ += frames;
    const std::lock_guard lock(listener_mutex_);
    listener_.progress(done_, total_);
  }

  // The mosaics of the frames still in contention; the others' highlights can't change anything.
  BurstPtr highlighted(BurstPtr b) const {
    if (!b || b->remembered) return b;
    const auto& frames = bursts_[b->index].frames;
    // The default policy, whatever the user's: what is measured must not depend on options, or the catalogue
    // would lie.
    const auto in = rank::in_contention(contenders(frames, b->facts, {}), {});
    for (std::size_t i = 0; i < frames.size(); ++i)
      if (in[i] && measure_highlights(frames[i], b->facts[i], options_.limits)) ++b->mosaics;
    return b;
  }

  void commit(BurstPtr b) {
    if (!b) return;
    const Burst& burst = bursts_[b->index];
    const std::lock_guard listening(listener_mutex_);
    const std::lock_guard cataloguing(catalog_mutex_);
    if (b->passing) {
      // nothing to remember: the next run tries again
    } else if (!b->remembered) {
      const auto stored =
          catalog_.store_burst(burst_key(burst.frames, kEngineVersion), burst.frames, b->facts);
      if (!stored) fail(stored.error());
    } else {
      summary_.remembered += burst.frames.size();
    }
    summary_.mosaics += b->mosaics;
    tell(outcome_of(*b));
  }

  BurstOutcome outcome_of(FinishedBurst& b) {
    const Burst& burst = bursts_[b.index];
    auto entries = contenders(burst.frames, b.facts, options_.poses);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      const auto said = desk_.human_word(burst.frames[i]);
      entries[i].rejected_by_hand = said && said->rating && *said->rating < 0;
    }
    const auto verdicts = rank::judge(entries, options_.policy);
    BurstOutcome out{static_cast<int>(b.index) + 1, burst.camera, {}, b.remembered};
    for (std::size_t i = 0; i < burst.frames.size(); ++i)
      out.frames.push_back({burst.frames[i], std::move(b.facts[i]), verdicts[i], {}});
    return out;
  }

  void tell(BurstOutcome outcome) {
    for (FrameOutcome& f : outcome.frames) {
      if (!f.facts.damage.empty()) {
        ++summary_.damaged;
        fail({Cause::corrupt, f.frame.main().path, f.facts.damage});
      }
      summary_.keep += f.verdict.verdict == Verdict::keep;
      summary_.reject += f.verdict.verdict == Verdict::reject;
      summary_.undecided += f.verdict.verdict == Verdict::undecided;
      desk_.write(f);
      verdicts_.push_back({f.frame.main().path, f.verdict});
    }
    desk_.flush();
    listener_.burst(outcome);
  }

  void fail(const Error& error) {
    ++summary_.errors;
    listener_.error(error);
  }

  const CullOptions& options_;
  const std::vector<Burst>& bursts_;
  Catalog& catalog_;
  Listener& listener_;
  RunSummary& summary_;
  const std::atomic<bool>* stop_;
  SidecarDesk desk_;
  std::mutex catalog_mutex_, listener_mutex_;
  std::size_t burst_ = 0, frame_ = 0;  // of the source
  Trail trail_;                        // of the following stage
  std::vector<FrameFacts> gathered_;   // of the collecting stage
  bool gathered_passing_ = false;      // likewise
  std::size_t done_ = 0, total_ = 0;   // of the collecting stage
  std::vector<PathVerdict> verdicts_;  // of the committing stage
};

Status checked(const CullOptions& o) {
  if (o.places.empty()) return Error{Cause::unsupported, {}, "no folder named"};
  if (o.threads < 0 || o.threads > 1024)
    return Error{Cause::unsupported, {}, "threads must be 0 (one per core) to 1024"};
  if (auto s = o.bursts.check(); !s) return s;
  return o.policy.check();
}

void count_frames(const std::vector<Burst>& bursts, RunSummary& summary) {
  summary.bursts = bursts.size();
  for (const Burst& b : bursts)
    for (const Frame& f : b.frames) {
      ++summary.frames;
      summary.pairs += f.raw && f.jpeg;
      summary.copies += f.copies.size();
    }
}

std::string joined(const std::vector<std::string>& places) {
  std::string out;
  for (const std::string& p : places) out += (out.empty() ? "" : ", ") + p;
  return out;
}

RunCounts counts_of(const RunSummary& s) {
  const auto count = [](std::size_t n) { return static_cast<std::int64_t>(n); };
  return {count(s.frames),    count(s.bursts), count(s.keep),
          count(s.undecided), count(s.reject), count(s.damaged)};
}

// Before the first sidecar: the journal needs the run's number, and a killed run is to be seen as one.
Result<std::int64_t> announce(Catalog& catalog, const CullOptions& options, const RunSummary& s,
                              std::int64_t started) {
  Run run;
  run.started_ms = started;
  run.folder = joined(options.places);
  run.options = options.dry_run ? "dry run" : "";
  run.version = kVersion;
  run.counts = counts_of(s);
  return catalog.record_run(run);
}

// The measures are in the catalogue burst by burst; this records what the run made of them.
Status record(Catalog& catalog, std::int64_t run, const RunSummary& s, std::int64_t ended,
              const std::vector<PathVerdict>& verdicts) {
  if (auto done = catalog.record_verdicts(run, verdicts); !done) return done.error();
  return catalog.finish_run(run, ended, counts_of(s));
}

}  // namespace

Result<RunSummary> cull(const CullOptions& options, Catalog& catalog, FileSystem& fs, Clock& clock,
                        Listener& listener, const std::atomic<bool>* stop) {
  if (auto s = checked(options); !s) return s.error();
  image::prepare_process();
  const int threads = options.threads > 0
                          ? options.threads
                          : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism,
                                  static_cast<std::size_t>(threads));
  const std::int64_t started = clock.now_ms();

  auto found = scan(options.places, options.limits, options.file_ready);
  if (!found) return found.error();
  RunSummary summary;
  summary.scan = found->counts;
  summary.dry_run = options.dry_run;
  const auto fail = [&](const Error& e) {
    ++summary.errors;
    listener.error(e);
  };
  for (const Error& e : found->errors) fail(e);

  auto metadata = read_metadata(found->files, catalog, options.limits);
  for (const Error& e : metadata.errors) fail(e);
  auto bursts = group::form_bursts(group::pair_files(std::move(metadata.taken)), options.bursts);
  if (options.burst_ready) std::erase_if(bursts, [&](const Burst& b) { return !options.burst_ready(b); });
  count_frames(bursts, summary);
  listener.found(summary.scan, summary.bursts, summary.frames);

  const auto run = announce(catalog, options, summary, started);
  if (!run) return run.error();
  Flow flow(options, bursts, catalog, fs, clock, listener, summary, *run, stop);
  // Two frames more than threads keep every core busy while one waits its turn; memory follows from this
  // number, not from the shoot.
  flow.run(static_cast<std::size_t>(threads) + 2);
  if (const auto s = record(catalog, *run, summary, clock.now_ms(), flow.take_verdicts()); !s)
    fail(s.error());
  for (const std::string& note : catalog.take_notes()) fail({Cause::corrupt, {}, note});
  return summary;
}

}  // namespace burstsieve::pipeline
