// How sure it is that the truth behind a measured number lies beyond a limit. That is another question than
// whether the number is within some percent of the truth (Measure::confidence): a subject read as 3.7 px soft
// is surely softer than 2.2 px, also where it may be 2.9 px or 4.6 px.
//
// Logistic models of the number against its limit, in steps of a factor of two, and of what else was
// measured, fitted to generated seasons (tools/season-check/fit.py; seeds and held-out table in
// docs/verdicts.md). They speak of what the generator draws; on real frames they have not been held against
// truth.
#pragma once
#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

// 0..1 each; 0 where the measure is missing. limit > 0, as in PolicyOptions.
double surely_softer(const FrameFacts& facts, double limit_px);
double surely_streaked(const FrameFacts& facts, double limit_px);
double surely_cut(const FrameFacts& facts, double limit);
// `lost`: ClippedWhites::lost, of a sensor or of a rendering that is all there is.
double surely_clipped(const FrameFacts& facts, double lost, double limit);

// That the first is softer than the second, of the same pose, by more than a tenth.
double surely_softer_than(const FrameFacts& one, const FrameFacts& other);

}  // namespace burstsieve::rank
