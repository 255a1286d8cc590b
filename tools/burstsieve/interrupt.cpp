#include "interrupt.h"

#include <csignal>

namespace burstsieve::tool {
namespace {

std::atomic<bool> interrupted{false};
static_assert(std::atomic<bool>::is_always_lock_free, "set from a signal handler");

void on_interrupt(int) {
  interrupted = true;
  std::signal(SIGINT, SIG_DFL);
  std::signal(SIGTERM, SIG_DFL);
}

}  // namespace

const std::atomic<bool>& stop_on_interrupt() {
  std::signal(SIGINT, on_interrupt);
  std::signal(SIGTERM, on_interrupt);
  return interrupted;
}

}  // namespace burstsieve::tool
