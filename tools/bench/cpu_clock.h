#pragma once
#include <ctime>

namespace burstsieve::bench {

// CPU time of this thread: what other programs do on the machine does not count.
inline double cpu_ms() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) * 1e3 + static_cast<double>(t.tv_nsec) * 1e-6;
}

}  // namespace burstsieve::bench
