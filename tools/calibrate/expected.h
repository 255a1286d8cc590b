// Holds a frame's measures against its truth.
#pragma once
#include <vector>

#include "burstsieve/model/measure.h"
#include "frame.h"
#include "reliability.h"
#include "scene_truth.h"

namespace burstsieve::calibrate {

// What a measure's confidence is about; a tolerance of 0 for a measure that promises nothing.
struct Promise {
  measure::Tolerance within;
  double split = 0;  // values up to it claim that there is nothing
};
Promise promise_of(std::string_view id);

// One value whose truth is known.
Sample judged_value(const Measure& m, double truth);

// One sample for every measure of known truth. `facts`: what the engine said.
std::vector<Sample> judged(const FrameFacts& facts, const generate::FrameSpec& spec,
                           const generate::FrameTruth& truth, const SceneTruth& scene);

}  // namespace burstsieve::calibrate
