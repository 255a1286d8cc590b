// The supervisor's side of the pipe.
#include "burstsieve/pipeline/engine_process.h"

#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstring>
#include <deque>
#include <numeric>
#include <utility>

#include "burstsieve/base/text.h"
#include "child_process.h"
#include "engine_detector.h"
#include "engine_records.h"
#include "render_desk.h"
#include "silence.h"

namespace burstsieve::pipeline {
namespace {

using SteadyClock = std::chrono::steady_clock;

// Files asked about in one record: the answer to one crash is to ask again.
constexpr std::size_t kFilesPerQuestion = 512;
// Pictures asked for in one record: their answer must stay below kMaxRecordBytes.
constexpr std::size_t kRendersPerQuestion = 3;
// Ends of the engine that tell nothing about any file, in a row, after which it is given up.
constexpr int kUnexplainedEnds = 3;

// Why the engine ended, in words that follow a file's name.
struct Death {
  std::string text;
  bool passing = false;
};

Death crashed(const Ending& ending) {
  if (ending.signal == SIGKILL) return {"the decoder was killed, perhaps for lack of memory", true};
  if (ending.signal == SIGABRT) return {"made the decoder give up (signal 6)", true};
  if (ending.signal != 0)
    return {"crashed the decoder (signal " + std::to_string(ending.signal) + ", " +
                one_line(::strsignal(ending.signal)) + ")",
            false};
  return {"ended the decoder (exit code " + std::to_string(ending.exit_code) + ")", false};
}

// Whole seconds without a point.
std::string seconds_text(double s) {
  return fixed(s, s == std::floor(s) ? 0 : 1) + " s";
}

std::uint64_t default_memory(int threads) {
  constexpr std::uint64_t gib = 1ull << 30;
  const long pages = ::sysconf(_SC_PHYS_PAGES), size = ::sysconf(_SC_PAGESIZE);
  const std::uint64_t wanted = (2 + static_cast<std::uint64_t>(threads)) * gib;
  if (pages <= 0 || size <= 0) return wanted;
  return std::min(wanted,
                  std::max(2 * gib, static_cast<std::uint64_t>(pages) * static_cast<std::uint64_t>(size)));
}

class EngineProcess final : public Engine {
 public:
  EngineProcess(EngineOptions options, int threads, const Limits& limits)
      : options_(std::move(options)), threads_(thread_count(threads)), limits_(limits) {}

  // Starts the process; what is outstanding is asked again.
  Status start() {
    auto child = ChildProcess::start(options_.program, kEngineArgument, options_.hang_seconds);
    if (!child) {
      fatal({Cause::io, child.error().file, "the engine process can't be started: " + child.error().text});
      return status_;
    }

    child_ = std::move(*child);
    stream_ = {};
    in_flight_.clear();
    last_ended_.reset();
    facts_.clear();
    tasks_ = 0;
    if (const auto s = greet(); !s) {
      fatal(s.error());
      return status_;
    }
    for (Outstanding& o : outstanding_) {
      o.number = tasks_++;
      o.done = 0;
      say(RecordKind::burst, encode(o.task));
    }
    return Done{};
  }

  std::vector<Result<Identity>> identify(const std::vector<Candidate>& files) override {
    return ask<Identity>(files, RecordKind::candidates, RecordKind::identities, kFilesPerQuestion);
  }
  std::vector<Result<Capture>> read_captures(const std::vector<FileRef>& files) override {
    return ask<Capture>(files, RecordKind::files, RecordKind::captures, kFilesPerQuestion);
  }
  std::vector<Result<Rendering>> render(const std::vector<RenderTask>& tasks) override {
    return ask<Rendering>(tasks, RecordKind::renders, RecordKind::renderings, kRendersPerQuestion);
  }

  void submit(BurstTask task) override {
    outstanding_.push_back({std::move(task), tasks_++, 0, 0});
    if (child_) say(RecordKind::burst, encode(outstanding_.back().task));
  }

  Result<std::optional<BurstFacts>> next(const std::function<void()>& frame_done,
                                         const std::atomic<bool>* stop) override {
    for (;;) {
      if (auto s = running(); !s) return s.error();
      auto heard = hear(stop);
      if (heard.stopped) return std::optional<BurstFacts>{};
      if (heard.death) {
        blame_bursts(*heard.death);
      } else if (heard.record->kind == RecordKind::frame_done) {
        count_frame(frame_done);
      } else if (auto done = take_burst(*heard.record)) {
        unexplained_ = 0;
        return std::optional(std::move(*done));
      }
    }
  }

  Status status() const override { return status_; }
  int threads() const override { return threads_; }
  std::string detector() const override { return detector_.value_or(""); }
  std::vector<Error> take_notes() override { return std::exchange(notes_, {}); }

 private:
  struct Outstanding {
    BurstTask task;
    std::uint64_t number = 0;           // in this life of the process
    std::size_t done = 0, counted = 0;  // frames measured in this life; frames the caller was told of
  };
  struct Heard {
    std::optional<Record> record;
    std::optional<Death> death;
    bool stopped = false;
  };

  void fatal(Error error) {
    end_child();
    if (!last_words_.empty()) error.text += " (" + last_words_ + ")";
    status_ = std::move(error);
  }

  Status running() {
    if (!status_ || child_) return status_;
    return start();
  }

  Status greet() {
    Hello hello;
    hello.protocol = kProtocol;
    hello.threads = threads_;
    hello.limits = limits_;
    hello.memory_bytes = options_.memory_bytes ? options_.memory_bytes : default_memory(threads_);
    hello.detector = options_.detector;
    say(RecordKind::hello, encode(hello));
    const Heard heard = hear(nullptr);
    Ready ready;
    if (!heard.record || heard.record->kind != RecordKind::ready || !decode(heard.record->payload, ready))
      return Error{Cause::io, options_.program, "the engine process can't be started"};
    if (const Status s = take_detector(ready); !s) return s;
    if (ready.sandboxed) return Done{};
    if (options_.require_sandbox)
      return Error{Cause::unsupported, {}, "the engine process can't be protected: " + ready.why_not};
    if (!std::exchange(noted_, true))
      notes_.push_back({Cause::unsupported, {}, ready.why_not + "; photographs are decoded without it"});
    return Done{};
  }

  // Once; a later life of the process must have the same, or the answers would be of two kinds.
  Status take_detector(const Ready& ready) {
    if (!detector_) {
      detector_ = one_line(ready.detector);
      return accept_detector(options_, one_line(ready.why_no_detector), notes_);
    }
    if (*detector_ == ready.detector) return Done{};
    return Error{Cause::io, options_.detector, "the subject detector is no longer the one it was"};
  }

  void say(RecordKind kind, Bytes payload) {
    child_->send(framed(kind, payload));  // a child that is gone shows when we listen
    silence_.broken();
  }

  // The next record that asks for something to be done, or the end of the process.
  Heard hear(const std::atomic<bool>* stop) {
    for (;;) {
      while (auto record = stream_.next()) {
        silence_.broken();
        if (record->kind != RecordKind::begin && record->kind != RecordKind::end)
          return {std::move(record), {}, false};
        if (!note_place(*record)) return {{}, nonsense(), false};
      }
      if (stream_.broken()) return {{}, nonsense(), false};
      if (stop && stop->load()) return {{}, {}, true};
      ByteBuffer bytes;
      const auto before = SteadyClock::now();
      const auto got = child_->receive(50, bytes);
      silence_.listened(SteadyClock::now() - before);
      if (got == ChildProcess::Heard::bytes) stream_.add(bytes);
      if (got == ChildProcess::Heard::closed) return {{}, crashed(end_child(true)), false};
      if (got == ChildProcess::Heard::nothing && silence_.seconds() > options_.hang_seconds) {
        end_child();
        return {
            {}, Death{"the decoder gave no answer for " + seconds_text(options_.hang_seconds), true}, false};
      }
    }
  }

  // Closing the pipe is the last thing a dying process does: waiting for its end takes no time. One that
  // lives on is killed.
  Ending end_child(bool dying = false) {
    if (!child_) return {};
    const Ending ending = dying ? child_->wait_end() : child_->end();
    last_words_ = child_->last_words();
    child_.reset();
    return ending;
  }

  Death nonsense() {
    end_child();
    return {"made the decoder talk nonsense", false};
  }

  bool note_place(const Record& record) {
    Place place;
    if (!decode(record.payload, place)) return false;
    const auto known = std::find(in_flight_.begin(), in_flight_.end(), place);
    if (record.kind == RecordKind::begin)
      in_flight_.push_back(place);
    else if (known != in_flight_.end())
      in_flight_.erase(known);
    last_ended_ = place;
    return in_flight_.size() < 100'000;
  }

  // In order of bursts, so the frame is one of the first burst with frames left. After a restart it may be
  // one that was counted before.
  void count_frame(const std::function<void()>& frame_done) {
    for (Outstanding& o : outstanding_) {
      if (o.done >= o.task.frames.size()) continue;
      if (++o.done > o.counted) {
        o.counted = o.done;
        if (frame_done) frame_done();
      }
      return;
    }
  }

  // The burst, once its last record is there.
  std::optional<BurstFacts> take_burst(const Record& record) {
    FactsRecord facts;
    BurstEnd end;
    const std::size_t frames = outstanding_.empty() ? 0 : outstanding_.front().task.frames.size();
    if (record.kind == RecordKind::facts && facts_.size() < frames && decode(record.payload, facts)) {
      facts_.push_back(std::move(facts.facts));
      return std::nullopt;
    }
    if (record.kind == RecordKind::burst_done && frames > 0 && facts_.size() == frames &&
        decode(record.payload, end)) {
      auto taken = std::exchange(facts_, {});
      if (feed_again(end.starved)) return std::nullopt;
      outstanding_.pop_front();
      return BurstFacts{std::move(taken), static_cast<std::size_t>(end.mosaics), end.passing, {}};
    }
    blame_bursts(nonsense());
    return std::nullopt;
  }

  // Memory ran out somewhere in the first burst: it is measured again by a fresh process, one frame at a
  // time; what still starves then does so by its own fault. True when there is something to do again.
  bool feed_again(const std::vector<Mishap>& starved) {
    Outstanding& first = outstanding_.front();
    if (starved.empty() || starved.front().item >= first.task.frames.size()) return false;
    if (first.task.one_by_one && !blame(first, starved.front())) return false;
    first.task.one_by_one = true;
    end_child();
    return true;
  }

  // What was in flight is tried again one at a time; what was alone in flight is to blame.
  void blame_bursts(const Death& death) {
    auto places = std::exchange(in_flight_, {});
    if (places.empty() && last_ended_) places.push_back(*last_ended_);  // it may have left a ruin behind
    bool explained = false;
    for (const Place& place : places)
      for (Outstanding& o : outstanding_) {
        if (o.number != place.task || place.item >= o.task.frames.size()) continue;
        const bool alone = std::exchange(o.task.one_by_one, true);
        explained = !alone || blame(o, {place.item, place.step, death.text, death.passing}) || explained;
      }
    if (!explained) unexplained(death);
  }

  // False when that was known: passing the item over did not help.
  static bool blame(Outstanding& o, const Mishap& mishap) {
    for (const Mishap& known : o.task.mishaps)
      if (known.item == mishap.item && known.step == mishap.step) return false;
    o.task.mishaps.push_back(mishap);
    return true;
  }

  // An end that tells nothing about any file: too many of them end the run.
  void unexplained(const Death& death) {
    if (++unexplained_ > kUnexplainedEnds)
      fatal({Cause::io, {}, "the engine process ends again and again: it " + death.text});
  }

  template <class T, class File>
  std::vector<Result<T>> ask(const std::vector<File>& files, RecordKind question, RecordKind answer,
                             std::size_t at_once) {
    std::vector<Result<T>> out(files.size(), T{});
    std::deque<std::vector<std::size_t>> batches;
    for (std::size_t i = 0; i < files.size(); ++i) {
      if (i % at_once == 0) batches.emplace_back();
      batches.back().push_back(i);
    }
    while (!batches.empty() && running()) {
      const auto batch = std::move(batches.front());
      batches.pop_front();
      const auto death = ask_batch<T>(files, batch, question, answer, out);
      if (!death) continue;
      if (batch.size() == 1) {
        const std::size_t i = batch.front();
        out[i] = Error{death->passing ? Cause::limit : Cause::corrupt, path_of(files[i]), death->text};
      } else {
        split(batch, *death, batches);
      }
    }
    return out;
  }

  // Nothing when all is answered.
  template <class T, class File>
  std::optional<Death> ask_batch(const std::vector<File>& files, const std::vector<std::size_t>& batch,
                                 RecordKind question, RecordKind answer, std::vector<Result<T>>& out) {
    std::vector<File> asked;
    for (const std::size_t i : batch) asked.push_back(files[i]);
    ++tasks_;
    in_flight_.clear();
    say(question, encode(asked));
    const Heard heard = hear(nullptr);
    if (heard.death) return heard.death;
    std::vector<Answer<T>> answers;
    if (heard.record->kind != answer || !decode(heard.record->payload, answers) ||
        answers.size() != batch.size())
      return nonsense();
    for (std::size_t k = 0; k < batch.size(); ++k) {
      Answer<T>& a = answers[k];
      const std::size_t i = batch[k];
      out[i] =
          a.value ? Result<T>(std::move(*a.value)) : Result<T>(Error{a.cause, path_of(files[i]), a.text});
    }
    unexplained_ = 0;
    return std::nullopt;
  }

  // What was in flight alone first, then the rest.
  void split(const std::vector<std::size_t>& batch, const Death& death,
             std::deque<std::vector<std::size_t>>& batches) {
    std::vector<bool> suspect(batch.size(), false);
    for (const Place& place : std::exchange(in_flight_, {}))
      if (place.item < batch.size()) suspect[place.item] = true;
    std::vector<std::size_t> rest;
    for (std::size_t k = 0; k < batch.size(); ++k)
      if (!suspect[k]) rest.push_back(batch[k]);
    if (rest.size() == batch.size()) unexplained(death);
    if (!rest.empty()) batches.push_front(rest);
    for (std::size_t k = batch.size(); k-- > 0;)
      if (suspect[k]) batches.push_front({batch[k]});
  }

  const EngineOptions options_;
  const int threads_;
  const Limits limits_;
  Status status_ = Done{};
  std::unique_ptr<ChildProcess> child_;
  RecordStream stream_;
  Silence silence_;
  std::uint64_t tasks_ = 0;  // asked in this life of the process
  std::vector<Place> in_flight_;
  std::optional<Place> last_ended_;
  std::deque<Outstanding> outstanding_;
  std::vector<FrameFacts> facts_;        // of the first outstanding burst
  std::optional<std::string> detector_;  // of the first life of the process
  std::vector<Error> notes_;
  bool noted_ = false;
  int unexplained_ = 0;
  std::string last_words_;
};

}  // namespace

Status EngineOptions::check() const {
  if (!(hang_seconds > 0)) return Error{Cause::unsupported, {}, "the engine's time must be above 0 s"};
  return Done{};
}

Result<std::unique_ptr<Engine>> make_engine(const EngineOptions& options, int threads, const Limits& limits) {
  if (auto s = options.check(); !s) return s.error();
  if (options.program.empty()) {
    auto detector = load_detector(options.detector);
    std::vector<Error> notes;
    if (auto s = accept_detector(options, detector.why_not, notes); !s) return s.error();
    return make_local_engine(threads, limits, nullptr, std::move(detector.pool));
  }
  auto engine = std::make_unique<EngineProcess>(options, threads, limits);
  if (auto s = engine->start(); !s) return s.error();
  return std::unique_ptr<Engine>(std::move(engine));
}

}  // namespace burstsieve::pipeline
