// Ctrl-C and a request to end, for commands that can stop between two frames.
#pragma once
#include <atomic>

namespace burstsieve::tool {

// The first signal makes the flag true: what is in flight is finished. The second ends the process at once,
// which loses nothing acknowledged; the next run puts the rest in order.
const std::atomic<bool>& stop_on_interrupt();

}  // namespace burstsieve::tool
