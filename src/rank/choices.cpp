#include "burstsieve/rank/choices.h"

#include <algorithm>

namespace burstsieve::rank {
namespace {

bool starred(const Considered& c) {
  return c.human.value_or(0) > 0;
}
bool thrown_out(const Considered& c) {
  return c.human.value_or(0) < 0;
}
bool unrated(const Considered& c) {
  return !starred(c) && !thrown_out(c);
}
bool let_stand(const Considered& c) {
  return unrated(c) && !c.human && c.ours.value_or(0) > 0;
}

// Our keep may have been made in place of one that they threw out, and not been seen by them.
bool keeps_were_seen(std::span<const Considered> pose) {
  return std::none_of(pose.begin(), pose.end(),
                      [](const Considered& c) { return thrown_out(c) && c.ours.value_or(0) > 0; });
}

bool preferred(const Considered& a, const Considered& b, bool seen) {
  if (starred(a)) {
    if (starred(b)) return *a.human > *b.human;
    if (let_stand(b)) return seen && *a.human >= *b.ours;
    return true;
  }
  if (!let_stand(a) || !seen) return false;
  return thrown_out(b) || (unrated(b) && !let_stand(b));
}

Choice choice_between(const Considered& better, const Considered& worse) {
  Choice out;
  for (std::size_t i = 0; i < kFeatures; ++i)
    if (better.features[i].known && worse.features[i].known)
      out.difference[i] = better.features[i].value - worse.features[i].value;
  return out;
}

}  // namespace

ChoiceGroup choices_of(std::span<const Considered> pose) {
  ChoiceGroup out;
  const bool seen = keeps_were_seen(pose);
  for (const Considered& a : pose) {
    out.overrides += a.human.has_value();
    const std::size_t first = out.choices.size();
    for (const Considered& b : pose)
      if (&a != &b && preferred(a, b, seen)) out.choices.push_back(choice_between(a, b));
    const double others = static_cast<double>(out.choices.size() - first);
    for (std::size_t i = first; i < out.choices.size(); ++i) out.choices[i].weight = 2 / (others + 1);
  }
  return out;
}

}  // namespace burstsieve::rank
