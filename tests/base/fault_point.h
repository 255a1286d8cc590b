// Counts the steps of a program that change something on the disk, and disturbs one of them.
#pragma once
#include <signal.h>
#include <unistd.h>

#include <atomic>

namespace burstsieve::test {

enum class Disturb {
  nothing,     // only count
  fail,        // the step fails, once
  kill,        // kill -9 instead of the step
  kill_half,   // a write is done by half, then kill -9; other steps as for kill
  kill_after,  // the step is done, then kill -9
};

class FaultPoint {
 public:
  FaultPoint(Disturb how, int at) : how_(how), at_(at) {}

  // Before each step; true: it is to fail. `half` does what a write leaves when it is cut short.
  template <class Half>
  bool reached(Half half) {
    if (++steps_ != at_) return false;
    if (how_ == Disturb::fail) return true;
    if (how_ == Disturb::kill_half) half();
    if (how_ == Disturb::kill || how_ == Disturb::kill_half) die();
    return false;
  }
  bool reached() {
    return reached([] {});
  }
  // After each step.
  void passed() const {
    if (steps_ == at_ && how_ == Disturb::kill_after) die();
  }
  int steps() const { return steps_; }

  [[noreturn]] static void die() {
    ::kill(::getpid(), SIGKILL);
    for (;;) ::pause();
  }

 private:
  Disturb how_;
  int at_;
  std::atomic<int> steps_{0};
};

}  // namespace burstsieve::test
