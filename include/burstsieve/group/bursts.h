// From frames to bursts: what one press of the shutter brought.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::group {

struct BurstOptions {
  double gap_s = 1.0;       // > 0: a pause up to this never ends a burst
  double gap_factor = 3.0;  // >= 1: nor one up to this many running median intervals
  double counted_gap_s =
      10;  // >= gap_s: nor one up to this while the camera's sequence counter counts on (buffer full)
  Status check() const;
};

// One camera at a time (make, model, serial), in capture order. A frame continues the burst when its pause is
// at most max(gap_s, gap_factor x median of the intervals so far). The maker's sequence counter, where it
// counts at all, decides against the clock: a counter that starts over ends the burst, one that goes on by
// one holds it together. Running file numbers (DCF, 0001 follows 9999) order frames whose file states no
// sub-second, and separate two runs that a clock change laid over each other. A frame without a time is a
// burst of its own. Bursts are sorted by their first frame's time, then camera, then path; the result does
// not depend on the input order.
std::vector<Burst> form_bursts(std::vector<Frame> frames, const BurstOptions& options);

// "Make Model #serial", without repeating the make that many models begin with.
std::string camera_name(const Capture& capture);

// The number a camera wrote into the file name: the last run of 1 to 5 digits of the stem (DCF: 4). Nothing
// without one.
std::optional<std::uint32_t> number_in_name(std::string_view path);

// Steps from `from` to `to` on the DCF counter that goes 0001..9999 and around; negative backwards, nearest
// way.
int dcf_steps(std::uint32_t from, std::uint32_t to);

}  // namespace burstsieve::group
