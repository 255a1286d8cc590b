#include "burstsieve/rank/ordering.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace burstsieve::rank {
namespace {

bool ties_with(const Candidate& leader, const Candidate& c) {
  return c.sure_fault == leader.sure_fault && c.keepable == leader.keepable &&
         leader.score - c.score <= std::hypot(leader.uncertainty, c.uncertainty);
}

// Among those that tie with the first of `rest`, the first in measured order whose taste is as good as any.
std::size_t next_of(const std::vector<Candidate>& frames, const std::vector<std::size_t>& rest) {
  const Candidate& leader = frames[rest.front()];
  double best = leader.taste;
  for (const std::size_t i : rest)
    if (ties_with(leader, frames[i])) best = std::max(best, frames[i].taste);
  for (std::size_t at = 0; at < rest.size(); ++at)
    if (ties_with(leader, frames[rest[at]]) && frames[rest[at]].taste >= best - kTasteStep) return at;
  return 0;
}

}  // namespace

std::vector<std::size_t> liked_order(const std::vector<Candidate>& frames, bool learnt) {
  std::vector<std::size_t> rest(frames.size()), out;
  std::iota(rest.begin(), rest.end(), std::size_t{0});
  if (learnt) {
    std::stable_sort(rest.begin(), rest.end(), [&](std::size_t a, std::size_t b) {
      if (frames[a].sure_fault != frames[b].sure_fault) return frames[b].sure_fault;
      return frames[a].liking > frames[b].liking;
    });
    return rest;
  }
  while (!rest.empty()) {
    const std::size_t at = next_of(frames, rest);
    out.push_back(rest[at]);
    rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(at));
  }
  return out;
}

std::size_t liked_best(const std::vector<Candidate>& frames, const std::vector<std::size_t>& order,
                       const std::vector<bool>& stays) {
  const Candidate& measured = frames.front();
  for (const std::size_t i : order)
    if (stays[i] && frames[i].sure_fault == measured.sure_fault && frames[i].keepable == measured.keepable)
      return i;
  return 0;
}

}  // namespace burstsieve::rank
