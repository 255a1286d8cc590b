#pragma once
#include <vector>

#include "burstsieve/group/pose.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::pipeline {

// The policy's view of a burst.
std::vector<rank::Contender> contenders(const std::vector<Frame>& frames,
                                        const std::vector<FrameFacts>& facts,
                                        const group::PoseOptions& options);

}  // namespace burstsieve::pipeline
