// The order of the frames of one pose by what is liked, given their order by what was measured.
#pragma once
#include <cstddef>
#include <vector>

namespace burstsieve::rank {

// Difference of taste below which two frames that measure alike are left in measured order: an eighth of a
// head that surely shows against one that surely does not.
inline constexpr double kTasteStep = .125;

struct Candidate {
  double score = 0, uncertainty = 0;  // Standing
  double taste = 0;                   // taste_of()
  double liking = 0;                  // liking_of() by what was learnt
  bool sure_fault = false;            // beyond its limit, and believed
  bool keepable = false;              // no fault, not even a doubtful one, and sharpness known well enough
};

// `frames` in measured order, best first, those with a sure fault last; the answer holds each of their
// numbers once. Where nothing was learnt, frames whose scores differ from the best of the rest by no more
// than one standard deviation of the difference tie with it, and taste decides among them. Where something
// was learnt, the liking decides. Neither takes a frame with a sure fault before one without.
std::vector<std::size_t> liked_order(const std::vector<Candidate>& frames, bool learnt);

// Which of them is the one to keep: the first in `order` that stays and is as good a candidate for a keep as
// the best by measure, which stays always. So taste neither costs a pose its keep nor gives it one.
std::size_t liked_best(const std::vector<Candidate>& frames, const std::vector<std::size_t>& order,
                       const std::vector<bool>& stays);

}  // namespace burstsieve::rank
