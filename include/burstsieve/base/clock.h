// The clock, injected: what a program writes must not depend on when a test runs.
#pragma once
#include <cstdint>

namespace burstsieve {

class Clock {
 public:
  Clock() = default;
  Clock(const Clock&) = delete;
  Clock& operator=(const Clock&) = delete;
  virtual ~Clock() = default;

  // Milliseconds since 1970-01-01 UTC; may jump when the machine's clock is set.
  virtual std::int64_t now_ms() = 0;
  // Milliseconds since an arbitrary moment; never runs backwards. For durations and time-outs.
  virtual std::int64_t steady_ms() = 0;
};

class SystemClock final : public Clock {
 public:
  std::int64_t now_ms() override;
  std::int64_t steady_ms() override;
};

// Stands still until told to move.
class ManualClock final : public Clock {
 public:
  explicit ManualClock(std::int64_t now_ms = 0) : now_(now_ms) {}
  std::int64_t now_ms() override { return now_; }
  std::int64_t steady_ms() override { return steady_; }
  void advance(std::int64_t ms) {
    now_ += ms;
    steady_ += ms;
  }

 private:
  std::int64_t now_;
  std::int64_t steady_ = 0;
};

}  // namespace burstsieve
