#include "frame_flow.h"

#include <tbb/parallel_pipeline.h>

#include <chrono>
#include <memory>
#include <utility>
#include <vector>

#include "burstsieve/pipeline/frame_work.h"
#include "burstsieve/subject/head.h"
#include "contenders.h"
#include "gaps.h"

namespace burstsieve::pipeline {

void BurstQueue::push(NumberedBurst burst) {
  const std::lock_guard lock(mutex_);
  waiting_.push_back(std::move(burst));
  changed_.notify_all();
}

void BurstQueue::close() {
  const std::lock_guard lock(mutex_);
  closed_ = true;
  changed_.notify_all();
}

bool BurstQueue::wait() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [&] { return closed_ || !waiting_.empty(); });
  return !waiting_.empty();
}

std::optional<NumberedBurst> BurstQueue::take(bool alone) {
  const std::lock_guard lock(mutex_);
  if (waiting_.empty() || waiting_.front().task.one_by_one != alone) return std::nullopt;
  NumberedBurst out = std::move(waiting_.front());
  waiting_.pop_front();
  return out;
}

void FlowEvents::push(FlowEvent event) {
  const std::lock_guard lock(mutex_);
  events_.push_back(std::move(event));
  changed_.notify_all();
}

std::optional<FlowEvent> FlowEvents::wait(const std::atomic<bool>* stop) {
  std::unique_lock lock(mutex_);
  // A signal handler can set `stop` but can't notify: look now and then.
  while (events_.empty()) {
    if (stop && stop->load()) return std::nullopt;
    changed_.wait_for(lock, std::chrono::milliseconds(50));
  }
  FlowEvent out = std::move(events_.front());
  events_.pop_front();
  return out;
}

namespace {

const Mishap* mishap_of(const BurstTask& task, std::size_t item, Step step) {
  for (const Mishap& m : task.mishaps)
    if (m.item == item && m.step == step) return &m;
  return nullptr;
}

// Tells the observer, also when the work throws.
class Watched {
 public:
  Watched(EngineObserver& observer, const NumberedBurst& burst, std::size_t item, Step step)
      : observer_(observer), task_(burst.number), item_(static_cast<std::uint32_t>(item)), step_(step) {
    const Frame& f = burst.task.frames[item];
    const bool raw = step == Step::mosaic || !f.jpeg;
    observer_.begin(task_, item_, step_, raw ? f.raw->path : f.jpeg->path);
  }
  ~Watched() { observer_.end(task_, item_, step_); }
  Watched(const Watched&) = delete;
  Watched& operator=(const Watched&) = delete;

 private:
  EngineObserver& observer_;
  std::uint64_t task_;
  std::uint32_t item_;
  Step step_;
};

// The stages of one frame and one burst, wherever they run.
class Stages {
 public:
  Stages(const Limits& limits, subject::DetectorPool* detectors, EngineObserver& observer)
      : limits_(limits), detectors_(detectors), observer_(observer) {}

  std::unique_ptr<FrameWork> decoded(const NumberedBurst& b, std::size_t i) const {
    if (const Mishap* m = mishap_of(b.task, i, Step::picture))
      return FrameWork::passed_over(m->text, m->passing);
    const Watched watched(observer_, b, i, Step::picture);
    return FrameWork::decoded(b.task.frames[i], limits_, detectors_, look_of(i));
  }

  void follow(const NumberedBurst& b, std::size_t i, FrameWork& work, Trail& trail) const {
    if (detectors_ == nullptr || mishap_of(b.task, i, Step::picture)) return work.follow(trail);
    const Watched watched(observer_, b, i, Step::picture);
    work.follow(trail);
  }

  // Frames in which the detector missed the animal that their neighbours show are looked at once more, there.
  void filled(const NumberedBurst& b, BurstFacts& facts) const {
    if (detectors_ == nullptr) return;
    for (const Gap& gap : gaps_of(facts.frames)) {
      if (mishap_of(b.task, gap.frame, Step::picture)) continue;
      const Watched watched(observer_, b, gap.frame, Step::picture);
      const auto work = FrameWork::decoded_about(b.task.frames[gap.frame], limits_, *detectors_, gap.place);
      FrameFacts again = work->measured(b.task.frames[gap.frame]);
      if (again.damage.empty() && seen_by_detector(again)) facts.frames[gap.frame] = std::move(again);
    }
  }

  FrameFacts measured(const NumberedBurst& b, std::size_t i, FrameWork& work) const {
    if (mishap_of(b.task, i, Step::picture)) return work.measured(b.task.frames[i]);
    const Watched watched(observer_, b, i, Step::picture);
    return work.measured(b.task.frames[i]);
  }

  // The mosaics of the frames still in contention; the others' highlights can't change anything.
  void highlighted(const NumberedBurst& b, BurstFacts& facts) const {
    const auto& frames = b.task.frames;
    // The default policy, whatever the user's: what is measured must not depend on options, or the catalogue
    // would lie.
    const auto in = rank::in_contention(contenders(frames, facts.frames, {}), {});
    for (std::size_t i = 0; i < frames.size(); ++i) {
      if (!in[i] || !frames[i].raw) continue;
      if (const Mishap* m = mishap_of(b.task, i, Step::mosaic)) {
        pass_over_highlights(frames[i], facts.frames[i], m->text);
        facts.passing = facts.passing || m->passing;
        continue;
      }
      const Watched watched(observer_, b, i, Step::mosaic);
      const Highlights h = measure_highlights(frames[i], facts.frames[i], limits_);
      facts.mosaics += h.read;
      facts.passing = facts.passing || h.trouble.passing;
      if (h.trouble.starved)
        facts.starved.push_back({static_cast<std::uint32_t>(i), Step::mosaic, "not enough memory", true});
    }
  }

 private:
  const Limits& limits_;
  subject::DetectorPool* detectors_;
  EngineObserver& observer_;
};

// Before the facts go to their place behind the others.
void note_trouble(const FrameWork& work, const FrameFacts& facts, BurstFacts& burst) {
  burst.passing = burst.passing || work.passing_failure();
  if (work.starved())
    burst.starved.push_back(
        {static_cast<std::uint32_t>(burst.frames.size()), Step::picture, facts.damage, true});
}

using Heads = std::vector<subject::HeadEvidence>;

// What all frames of the burst together say of the head of each one's first subject.
void settle_heads(const Heads& heads, BurstFacts& burst) {
  const auto judged = subject::agree_on_heads(heads);
  for (std::size_t i = 0; i < burst.frames.size(); ++i)
    if (!burst.frames[i].subjects.empty()) subject::settle_head(judged[i], burst.frames[i].subjects.front());
}

// Frame after frame, nothing else in flight.
BurstFacts one_by_one(const NumberedBurst& b, const Stages& stages, FlowEvents& progress) {
  BurstFacts out;
  Heads heads;
  Trail trail;
  for (std::size_t i = 0; i < b.task.frames.size(); ++i) {
    const auto work = stages.decoded(b, i);
    stages.follow(b, i, *work, trail);
    FrameFacts facts = stages.measured(b, i, *work);
    note_trouble(*work, facts, out);
    out.frames.push_back(std::move(facts));
    heads.push_back(work->head());
    progress.push({});
  }
  settle_heads(heads, out);
  stages.filled(b, out);
  stages.highlighted(b, out);
  return out;
}

using SharedBurst = std::shared_ptr<const NumberedBurst>;

// One frame between two stages.
struct Item {
  SharedBurst burst;
  std::size_t frame = 0;
  std::unique_ptr<FrameWork> work;
  FrameFacts facts;
};
using ItemPtr = std::shared_ptr<Item>;  // the flow copies its tokens

struct Finished {
  SharedBurst burst;
  BurstFacts facts;
};
using FinishedPtr = std::shared_ptr<Finished>;

class Flow {
 public:
  Flow(BurstQueue& queue, FlowEvents& out, const Stages& stages, const std::atomic<bool>& cancelled)
      : queue_(queue), out_(out), stages_(stages), cancelled_(cancelled) {}

  void run(std::size_t in_flight) {
    using tbb::filter_mode;
    tbb::parallel_pipeline(
        in_flight,
        tbb::make_filter<void, ItemPtr>(filter_mode::serial_in_order, [this](tbb::flow_control& fc) {
          return next(fc);
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::parallel, [this](ItemPtr i) {
          i->work = stages_.decoded(*i->burst, i->frame);
          return i;
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::serial_in_order, [this](ItemPtr i) {
          if (i->frame == 0) trail_ = {};
          stages_.follow(*i->burst, i->frame, *i->work, trail_);
          return i;
        }) & tbb::make_filter<ItemPtr, ItemPtr>(filter_mode::parallel, [this](ItemPtr i) {
          i->facts = stages_.measured(*i->burst, i->frame, *i->work);
          return i;
        }) & tbb::make_filter<ItemPtr, FinishedPtr>(filter_mode::serial_in_order, [this](ItemPtr i) {
          return collected(std::move(i));
        }) & tbb::make_filter<FinishedPtr, FinishedPtr>(filter_mode::parallel, [this](FinishedPtr b) {
          if (b) stages_.filled(*b->burst, b->facts);
          if (b) stages_.highlighted(*b->burst, b->facts);
          return b;
        }) & tbb::make_filter<FinishedPtr, void>(filter_mode::serial_in_order, [this](FinishedPtr b) {
          if (b) out_.push({std::make_unique<BurstFacts>(std::move(b->facts))});
        }));
  }

 private:
  ItemPtr next(tbb::flow_control& fc) {
    if (!burst_ && !cancelled_) {
      if (auto taken = queue_.take(false)) burst_ = std::make_shared<const NumberedBurst>(std::move(*taken));
      frame_ = 0;
    }
    if (!burst_ || cancelled_) {
      fc.stop();
      return nullptr;
    }
    auto item = std::make_shared<Item>();
    item->burst = burst_;
    item->frame = frame_++;
    if (frame_ == burst_->task.frames.size()) burst_.reset();
    return item;
  }

  FinishedPtr collected(ItemPtr i) {
    out_.push({});
    note_trouble(*i->work, i->facts, gathered_);
    gathered_.frames.push_back(std::move(i->facts));
    heads_.push_back(i->work->head());
    if (gathered_.frames.size() < i->burst->task.frames.size()) return nullptr;
    settle_heads(std::exchange(heads_, {}), gathered_);
    return std::make_shared<Finished>(Finished{i->burst, std::exchange(gathered_, {})});
  }

  BurstQueue& queue_;
  FlowEvents& out_;
  const Stages& stages_;
  const std::atomic<bool>& cancelled_;
  SharedBurst burst_;      // of the source
  std::size_t frame_ = 0;  // likewise
  Trail trail_;            // of the following stage
  BurstFacts gathered_;    // of the collecting stage
  Heads heads_;            // likewise
};

}  // namespace

void drain(BurstQueue& queue, FlowEvents& out, int threads, const Limits& limits,
           subject::DetectorPool* detectors, EngineObserver& observer, const std::atomic<bool>& cancelled) {
  const Stages stages(limits, detectors, observer);
  while (!cancelled) {
    // Two frames more than threads keep every core busy while one waits its turn; memory follows from this
    // number, not from the shoot.
    Flow(queue, out, stages, cancelled).run(static_cast<std::size_t>(threads) + 2);
    const auto alone = cancelled ? std::nullopt : queue.take(true);
    if (!alone) return;
    out.push({std::make_unique<BurstFacts>(one_by_one(*alone, stages, out))});
  }
}

}  // namespace burstsieve::pipeline
