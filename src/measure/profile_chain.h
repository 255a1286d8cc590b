// The blur of a region from its edge profiles on three levels of a pyramid.
#pragma once
#include <optional>

#include "burstsieve/measure/detail.h"

namespace burstsieve::measure {

// Sigma in full-size pixels. Nothing when no level has enough free-standing edges.
std::optional<EdgeBlur> profile_chain(const Detail& detail);
// Of the edges alone whose gradient lies in the bin 0..kDirections-1.
std::optional<EdgeBlur> profile_chain(const Detail& detail, int direction);

// Whether the answer of `level` needs the next coarser one: too soft or too noisy, or no answer at all.
bool profile_hands_over(const Detail& detail, int level);

}  // namespace burstsieve::measure
