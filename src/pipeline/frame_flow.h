// The parallel flow of frames through decoding, following and measuring, burst after burst.
#pragma once
#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>

#include "burstsieve/pipeline/engine.h"

namespace burstsieve::subject {
class DetectorPool;
}

namespace burstsieve::pipeline {

struct NumberedBurst {
  std::uint64_t number = 0;
  BurstTask task;
};

// Bursts waiting to be measured. Any thread.
class BurstQueue {
 public:
  void push(NumberedBurst burst);
  void close();
  // Waits for one; nothing once closed and empty.
  bool wait();
  // The next one, without waiting, if its BurstTask::one_by_one is `alone`.
  std::optional<NumberedBurst> take(bool alone);

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<NumberedBurst> waiting_;
  bool closed_ = false;
};

// What comes out, in order.
struct FlowEvent {
  std::unique_ptr<BurstFacts> burst;  // none: one frame was measured
};

class FlowEvents {
 public:
  void push(FlowEvent event);
  // Nothing when `stop` was set.
  std::optional<FlowEvent> wait(const std::atomic<bool>* stop);

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<FlowEvent> events_;
};

// Works on what is in the queue until that is empty, then returns with nothing in flight.
// detectors: may be null.
void drain(BurstQueue& queue, FlowEvents& out, int threads, const Limits& limits,
           subject::DetectorPool* detectors, EngineObserver& observer, const std::atomic<bool>& cancelled);

}  // namespace burstsieve::pipeline
