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
  // Where one claim ends and the next begins, rising: values up to the first say that there is nothing, or
  // that a picture is sharp.
  std::vector<double> limits;
};
Promise promise_of(std::string_view id);

// One value whose truth is known.
Sample judged_value(const Measure& m, double truth);

// One sample for every measure of known truth. `facts`: what the engine said.
std::vector<Sample> judged(const FrameFacts& facts, const generate::FrameSpec& spec,
                           const generate::FrameTruth& truth, const SceneTruth& scene);

}  // namespace burstsieve::calibrate
