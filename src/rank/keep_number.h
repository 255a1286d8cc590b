// Holds a burst to the number of keeps that the photographer wants.
#pragma once
#include <cstddef>
#include <vector>

#include "burstsieve/model/verdict.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::rank {

// Of more than `most` keeps the rest become undecided, and so do the spare frames beside them, each with the
// reason kOverNumber. Rejects nothing.
void keep_no_more(std::size_t most, const Alike& alike, std::vector<FrameVerdict>& verdicts);

}  // namespace burstsieve::rank
