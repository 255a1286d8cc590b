#include "burstsieve/pipeline/cull.h"

#include <algorithm>
#include <deque>
#include <optional>
#include <utility>

#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/scan.h"
#include "commit.h"
#include "contenders.h"
#include "metadata.h"

namespace burstsieve::pipeline {
namespace {

// Bursts that the catalogue knows, read ahead of their turn while an earlier one is being measured.
constexpr std::size_t kKnownAhead = 64;

// Takes the bursts through engine or catalogue to their verdicts and sidecars, in order of time. One thread.
class Culling {
 public:
  Culling(const CullOptions& options, const std::vector<Burst>& bursts, Engine& engine, Catalog& catalog,
          FileSystem& fs, Clock& clock, Listener& listener, RunSummary& summary, std::int64_t run,
          const std::atomic<bool>* stop)
      : options_(options),
        bursts_(bursts),
        engine_(engine),
        catalog_(catalog),
        listener_(listener),
        summary_(summary),
        stop_(stop),
        desk_(options, fs, catalog, clock, listener, summary, run) {
    for (const Burst& b : bursts_) total_ += b.frames.size();
  }

  // An Error when the engine can't go on; what was finished before stays.
  Status work() {
    while (done_ < bursts_.size() && !stopped()) {
      look_ahead();
      Turn turn = std::move(turns_.front());
      turns_.pop_front();
      const bool remembered = turn.known.has_value();
      if (!remembered) {
        auto measured = engine_.next([this] { tell_progress(1); }, stop_);
        if (!measured) return measured.error();
        if (!*measured) return Done{};
        turn.known = std::move(**measured);
        frames_out_ -= burst(turn).frames.size();
        ++measured_taken_;
        summary_.measured += burst(turn).frames.size();
      } else {
        tell_progress(burst(turn).frames.size());
      }
      ++done_;
      commit(turn, remembered);
    }
    return Done{};
  }

  std::vector<PathVerdict> take_verdicts() { return std::move(verdicts_); }

 private:
  struct Turn {
    std::size_t index = 0;
    std::optional<BurstFacts> known;  // nothing: the engine is at it
  };

  std::string key_of(const Burst& b) const { return burst_key(b.frames, kEngineVersion, engine_.detector()); }

  bool stopped() const { return stop_ && stop_->load(); }
  const Burst& burst(const Turn& turn) const { return bursts_[turn.index]; }

  // Enough work for the engine that it never waits: twice what it has in flight, and a burst beyond the one
  // it finishes.
  bool engine_is_fed() const {
    const auto wanted = 2 * static_cast<std::size_t>(engine_.threads() + 2);
    return frames_out_ >= wanted && submitted_ - measured_taken_ >= 2;
  }

  void look_ahead() {
    while (ahead_ < bursts_.size() && (turns_.empty() || !engine_is_fed()) && turns_.size() < kKnownAhead) {
      Turn turn{ahead_++, {}};
      if (auto facts = remembered(turn)) {
        turn.known = BurstFacts{std::move(*facts), 0, false, {}};
      } else {
        frames_out_ += burst(turn).frames.size();
        ++submitted_;
        engine_.submit({burst(turn).frames, {}, false});
      }
      turns_.push_back(std::move(turn));
    }
  }

  std::optional<std::vector<FrameFacts>> remembered(const Turn& turn) {
    auto facts = catalog_.burst_facts(key_of(burst(turn)));
    if (!facts || facts->size() != burst(turn).frames.size()) return std::nullopt;
    return facts;
  }

  void tell_progress(std::size_t frames) {
    frames_done_ += frames;
    listener_.progress(frames_done_, total_);
  }

  void commit(Turn& turn, bool remembered) {
    const Burst& b = burst(turn);
    if (remembered) {
      summary_.remembered += b.frames.size();
    } else if (!turn.known->passing) {  // else there is nothing to remember: the next run tries again
      const auto stored = catalog_.store_burst(key_of(b), b.frames, turn.known->frames);
      if (!stored) fail(stored.error());
    }
    summary_.mosaics += turn.known->mosaics;
    tell(outcome_of(turn, remembered));
  }

  BurstOutcome outcome_of(Turn& turn, bool remembered) {
    const Burst& b = burst(turn);
    std::vector<FrameFacts>& facts = turn.known->frames;
    auto entries = contenders(b.frames, facts, options_.poses);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      const auto said = desk_.human_word(b.frames[i]);
      entries[i].rejected_by_hand = said && said->rating && *said->rating < 0;
    }
    const auto alike = [&](std::size_t i, std::size_t k) {
      return group::likeness(facts[i].pose, facts[k].pose);
    };
    const auto verdicts = rank::judge(entries, options_.policy, alike);
    BurstOutcome out{static_cast<int>(turn.index) + 1, b.camera, {}, remembered};
    for (std::size_t i = 0; i < b.frames.size(); ++i)
      out.frames.push_back({b.frames[i], std::move(facts[i]), verdicts[i], {}});
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
      summary_.spare += rank::is_spare(f.verdict);
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
  Engine& engine_;
  Catalog& catalog_;
  Listener& listener_;
  RunSummary& summary_;
  const std::atomic<bool>* stop_;
  SidecarDesk desk_;
  std::deque<Turn> turns_;            // looked ahead, in order
  std::size_t ahead_ = 0, done_ = 0;  // bursts
  std::size_t submitted_ = 0, measured_taken_ = 0, frames_out_ = 0;
  std::size_t frames_done_ = 0, total_ = 0;
  std::vector<PathVerdict> verdicts_;
};

Status checked(const CullOptions& o) {
  if (o.places.empty()) return Error{Cause::unsupported, {}, "no folder named"};
  if (!is_profile_name(o.profile))
    return Error{Cause::unsupported, {}, "a profile's name is 1 to 64 letters, digits, '-', '_' and '.'"};
  if (o.threads < 0 || o.threads > 1024)
    return Error{Cause::unsupported, {}, "threads must be 0 (one per core) to 1024"};
  if (auto s = o.bursts.check(); !s) return s;
  if (auto s = o.engine.check(); !s) return s;
  if (auto s = o.poses.check(); !s) return s;
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

Status work_through(const CullOptions& options, const std::vector<Burst>& bursts, Engine& engine,
                    Catalog& catalog, FileSystem& fs, Clock& clock, Listener& listener, RunSummary& summary,
                    std::int64_t started, const std::atomic<bool>* stop) {
  const auto run = announce(catalog, options, summary, started);
  if (!run) return run.error();
  Culling culling(options, bursts, engine, catalog, fs, clock, listener, summary, *run, stop);
  const Status worked = culling.work();
  if (const auto s = record(catalog, *run, summary, clock.now_ms(), culling.take_verdicts()); !s) {
    ++summary.errors;
    listener.error(s.error());
  }
  return worked;
}

}  // namespace

namespace {

// What the profile has learnt, for the whole run: what people say while it runs counts in the next.
CullOptions with_preferences(const CullOptions& given, Catalog& catalog, RunSummary& summary) {
  CullOptions out = given;
  const auto profile = catalog.preferences(given.profile);
  if (!profile) return out;
  out.policy.learnt = weights_in_use(*profile);
  if (!out.policy.learnt) return out;
  summary.profile = given.profile;
  summary.learnt_from = static_cast<std::size_t>(std::max(0, profile->learnt.overrides));
  return out;
}

}  // namespace

Result<RunSummary> cull(const CullOptions& given, Catalog& catalog, FileSystem& fs, Clock& clock,
                        Listener& listener, const std::atomic<bool>* stop) {
  if (auto s = checked(given); !s) return s.error();
  RunSummary summary;
  const CullOptions options = with_preferences(given, catalog, summary);
  auto engine = make_engine(options.engine, options.threads, options.limits);
  if (!engine) return engine.error();
  for (const Error& note : (*engine)->take_notes()) listener.note(note);
  const std::int64_t started = clock.now_ms();

  auto found = scan(**engine, options.places, options.limits, options.file_ready);
  if (!found) return found.error();
  summary.scan = found->counts;
  summary.dry_run = options.dry_run;
  summary.detector = (*engine)->detector();
  summary.detector_missing = summary.detector.empty() && !options.engine.detector.empty();
  const auto fail = [&](const Error& e) {
    ++summary.errors;
    listener.error(e);
  };
  for (const Error& e : found->errors) fail(e);

  auto metadata = read_metadata(found->files, catalog, **engine);
  if (const Status s = (*engine)->status(); !s) return s.error();
  for (const Error& e : metadata.errors) fail(e);
  auto bursts = group::form_bursts(group::pair_files(std::move(metadata.taken)), options.bursts);
  if (options.burst_ready) std::erase_if(bursts, [&](const Burst& b) { return !options.burst_ready(b); });
  count_frames(bursts, summary);
  listener.found(summary.scan, summary.bursts, summary.frames);

  if (!bursts.empty())  // else there is nothing that the history could tell
    if (const auto s =
            work_through(options, bursts, **engine, catalog, fs, clock, listener, summary, started, stop);
        !s)
      return s.error();
  for (const std::string& note : catalog.take_notes()) fail({Cause::corrupt, {}, note});
  return summary;
}

}  // namespace burstsieve::pipeline
