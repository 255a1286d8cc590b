// How long a folder that still fills is left in peace.
#pragma once
#include "burstsieve/base/result.h"

namespace burstsieve::watch {

struct WatchOptions {
  double settle_s = 3;  // .05..3600: a file whose size and time of change stood still this long is complete
  double quiet_s = 20;  // 0..86400: a burst is complete when nothing new came into its folder for so long
  double poll_s = 5;    // .05..3600: pause between two looks at the folder
  double patience_s = 120;  // 0..86400: a file that reads as damaged is looked at again when it is this old
  Status check() const;
};

// A file that changes for longer than this after it arrived no longer holds up its folder (a log, a film
// being recorded). The longest single photograph copies in well under a minute even over a slow share.
inline constexpr double kRestless_s = 600;

// First and longest pause before something that failed is tried again; doubled in between.
inline constexpr double kFirstRetry_s = 5, kLongestRetry_s = 600;

}  // namespace burstsieve::watch
