// Counts the steps of a program that change something on the disk, and disturbs one of them. The steps must
// come one at a time, as those of one run do.
#pragma once
#include <signal.h>
#include <unistd.h>

#include <string>

namespace burstsieve::test {

enum class Disturb {
  nothing,     // only count
  fail,        // the step fails, once
  kill,        // kill -9 instead of the step
  kill_half,   // a write is done by half, then kill -9; other steps as for kill
  kill_after,  // the step is done, then kill -9
};

enum class Kind : char { file = 'f', database_write = 'w', database = 'd' };

class FaultPoint {
 public:
  FaultPoint(Disturb how, int at) : how_(how), at_(at) {}

  // Before each step; true: it is to fail. `half` does what a write leaves when it is cut short.
  template <class Half>
  bool reached(Kind kind, Half half) {
    kinds_ += static_cast<char>(kind);
    if (static_cast<int>(kinds_.size()) != at_) return false;
    if (how_ == Disturb::fail) return true;
    if (how_ == Disturb::kill_half) half();
    if (how_ == Disturb::kill || how_ == Disturb::kill_half) die();
    return false;
  }
  bool reached(Kind kind) {
    return reached(kind, [] {});
  }
  // After each step.
  void passed() const {
    if (static_cast<int>(kinds_.size()) == at_ && how_ == Disturb::kill_after) die();
  }
  // One letter for each step so far.
  const std::string& kinds() const { return kinds_; }

  [[noreturn]] static void die() {
    ::kill(::getpid(), SIGKILL);
    for (;;) ::pause();
  }

 private:
  Disturb how_;
  int at_;
  std::string kinds_;
};

}  // namespace burstsieve::test
