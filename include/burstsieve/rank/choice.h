// Which keeps of a burst to hold to when the photographer wants no more than so many.
//
// A choice S is worth what it shows of the burst and how good its frames are:
//     f(S) = sum over postures of share x max over s in S of likeness(posture, s)  +  kQualityWeight x sum of
//     quality
// The first part is a facility-location function, the second a sum: both grow with S, by less and less, so f
// is monotone and submodular, and taking the frame that adds most, time after time, gives at least 1 - 1/e =
// 63 % of what the best choice of that number is worth (Nemhauser, Wolsey & Fisher, "An analysis of
// approximations for maximizing submodular set functions - I", Mathematical Programming 14, 1978; from
// memory).
#pragma once
#include <cstddef>
#include <functional>
#include <vector>

namespace burstsieve::rank {

// A posture of the burst and the frame that would be kept for it.
struct KeepOption {
  double share = 0;    // of the burst's frames that show it, 0..1
  double quality = 0;  // of the frame, 0..1
};

// A star more is worth as much as a twentieth of the burst shown.
inline constexpr double kQualityWeight = .25;

// How much of posture `i` the frame kept for `k` shows, 0..1; 1 for i = k.
using Shows = std::function<double(std::size_t i, std::size_t k)>;

// At most `most` of the options, in the order in which they were chosen; of equals the earlier one.
std::vector<std::size_t> chosen_keeps(const std::vector<KeepOption>& options, const Shows& shows,
                                      std::size_t most);
// f(S).
double worth(const std::vector<KeepOption>& options, const Shows& shows,
             const std::vector<std::size_t>& choice);

}  // namespace burstsieve::rank
