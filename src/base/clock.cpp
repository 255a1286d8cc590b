#include "burstsieve/base/clock.h"

#include <chrono>

namespace burstsieve {

namespace {

template <class C>
std::int64_t milliseconds() {
  return std::chrono::duration_cast<std::chrono::milliseconds>(C::now().time_since_epoch()).count();
}

}  // namespace

std::int64_t SystemClock::now_ms() {
  return milliseconds<std::chrono::system_clock>();
}

std::int64_t SystemClock::steady_ms() {
  return milliseconds<std::chrono::steady_clock>();
}

}  // namespace burstsieve
