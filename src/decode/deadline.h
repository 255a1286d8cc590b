// The moment at which a decode gives up.
#pragma once
#include <ctime>

#include "burstsieve/base/limits.h"

namespace burstsieve::decode {

// Counts the processor time of the calling thread: a program that was suspended, or shares its core, has not
// become slow at this file, and the answer must not depend on what else the machine does. Use on the thread
// that made it.
class Deadline {
 public:
  explicit Deadline(const Limits& limits) : end_(seconds() + limits.max_decode_seconds) {}
  bool passed() const { return seconds() > end_; }

 private:
  static double seconds() {
    timespec t{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
  }
  double end_;
};

}  // namespace burstsieve::decode
