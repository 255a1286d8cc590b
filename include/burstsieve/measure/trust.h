// What a confidence means: among values given with confidence c, the share c lies within the tolerance stated
// here.
//
// Instruments know how good their evidence is (edges, noise, plumage), not how often that is enough. A curve
// per measure, fitted on generated frames of known truth that went through the whole engine
// (tools/calibrate; docs/measures.md has the reliability of held-out ones), turns the one into the other.
// Monotone: better evidence never counts less.
#pragma once
#include <array>
#include <limits>
#include <span>
#include <string_view>
#include <vector>

#include "burstsieve/model/measure.h"

namespace burstsieve::measure {

// |value - truth| <= max(absolute, relative * |truth|), in the measure's unit. Both 0: nothing is promised.
struct Tolerance {
  double absolute = 0, relative = 0;
};

inline constexpr int kTrustKnots = 11;
inline constexpr double kNoLimit = std::numeric_limits<double>::infinity();

struct TrustCurve {
  std::string_view id;
  bool sensor = false;  // of values from the raw mosaic; else from a rendering
  // "No streak" and "a streak of 9 px" are two claims, rarely as sure as each other: this one is for values
  // above `from`, up to and with `upto`.
  double from = -kNoLimit, upto = kNoLimit;
  Tolerance within;
  std::array<double, kTrustKnots> share{};  // at evidence 0, .1 .. 1; strictly rising
};

std::span<const TrustCurve> trust_curves();  // sorted by id; ranges of one do not overlap
// Null where a measure has none; its confidence stays the instrument's own.
const TrustCurve* trust_curve(std::string_view id, bool sensor, double value);

double calibrated(const TrustCurve& curve, double evidence);     // 0..1 to 0..1; 0 stays 0
double evidence_of(const TrustCurve& curve, double calibrated);  // its inverse

// From measures[first] on.
void calibrate(std::vector<Measure>& measures, std::size_t first);

}  // namespace burstsieve::measure
