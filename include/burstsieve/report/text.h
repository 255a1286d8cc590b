// A run in words: tables and lines for a terminal or a log.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/model/outcome.h"
#include "burstsieve/report/light.h"

namespace burstsieve::report {

// The table of one burst: a heading, a line per frame (file, pose, place, verdict, stars, blur, streak,
// whites, the deciding reason). Every line ends with a newline; names are made safe for a terminal.
std::string burst_table(const BurstOutcome& burst);

// What was found and done, a few lines; one more for each camera in `light`.
std::string summary_text(const RunSummary& summary, const std::vector<LightDrift>& light = {});

// Everything known of one frame: capture, subject, every measure with unit, confidence and basis, verdict and
// reasons.
std::string explanation(const FrameOutcome& outcome);

// "2026-11-25 10:15:02.250 UTC", or "... camera time" when the offset is unknown, or "time unknown".
std::string time_text(const Capture& capture);

}  // namespace burstsieve::report
