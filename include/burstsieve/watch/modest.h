// Staying out of the way of whoever sits at the machine.
#pragma once
#include <optional>
#include <string>

#include "burstsieve/base/result.h"

namespace burstsieve::watch {

enum class DiskPriority {
  normal,
  low,
  idle
};  // as the process was, best effort 7, only when nobody else reads

struct Modesty {
  int nice = 10;  // 0..19; 0 leaves it as it is
  DiskPriority disk = DiskPriority::low;
};

// For this thread and the threads and processes it starts afterwards. What the system refuses is an Error,
// and no reason not to go on.
Status be_modest(const Modesty& modesty);

// Processes running or waiting, averaged over the last minute; nothing when the system won't say.
std::optional<double> load_average();

}  // namespace burstsieve::watch
