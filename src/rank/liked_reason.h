// Why one of two frames that both stay is the one to keep, in words.
#pragma once
#include <optional>
#include <string>

#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"
#include "burstsieve/rank/preference.h"

namespace burstsieve::rank {

// Names up to two features that speak most for `kept`. Its value: by how much they do, in factors of two in
// blur.
Reason liked_reason(const FrameFacts& kept, const FrameFacts& measured_best, const std::string& name,
                    const std::optional<Weights>& learnt);

}  // namespace burstsieve::rank
