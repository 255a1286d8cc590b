// A run for machines: JSON Lines (one object per line): a "burst" object per burst in order of time, one
// "error" object per failed file, and a "summary" object at the end. Numbers are rounded to 6 significant
// digits. Nothing in it depends on the clock, the number of threads, or what the catalogue already knew, but
// the counts of the summary.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/report/light.h"

namespace burstsieve::report {

std::string burst_json(const BurstOutcome& burst);
std::string error_json(const Error& error);
// `light`: of the bursts told before; absent from the object when empty.
std::string summary_json(const RunSummary& summary, const std::vector<LightDrift>& light = {});
std::string frame_json(const FrameOutcome& outcome);

}  // namespace burstsieve::report
