// What a photographer's ratings say about the frames of one pose: which of two they like better.
#pragma once
#include <array>
#include <optional>
#include <span>
#include <vector>

#include "burstsieve/rank/preference.h"

namespace burstsieve::rank {

// A frame of a pose that the photographer has looked through.
struct Considered {
  Features features;
  std::optional<double> human;  // their rating: below 0 rejected, above 0 stars; nothing, or 0: none
  std::optional<int> ours;      // the rating that we had written: -1, 1..5, nothing
};

// One frame preferred to another: features of the first less those of the second.
struct Choice {
  std::array<double, kFeatures> difference{};  // 0 where unknown of either
  double weight = 1;                           // > 0
};

// The choices of one pose.
struct ChoiceGroup {
  std::vector<Choice> choices;
  int overrides = 0;  // frames that the photographer rated other than we did; 0: they let our choice stand
};

// A frame that the photographer gave stars stands above frames with fewer, above those they rejected, above
// those they left unrated, and above the one that we had kept, unless they gave it fewer stars than we gave
// that one. Our keep, where it was let stand and nothing we had kept was rejected, stands above the unrated
// frames: without these agreements a photographer of our own taste would teach us the opposite by their rare
// slips. What we had rejected and they let stand says nothing: who looks at rejects? The choices of each
// preferred frame weigh 1 together, whatever their number: they are one decision.
ChoiceGroup choices_of(std::span<const Considered> pose);

}  // namespace burstsieve::rank
