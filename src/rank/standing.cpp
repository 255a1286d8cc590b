#include <algorithm>
#include <cmath>

#include "burstsieve/rank/policy.h"
#include "whites.h"

namespace burstsieve::rank {
namespace {

double value_or(const FrameFacts& facts, std::string_view id, double otherwise, double least_confidence = 0) {
  const Measure* m = find(facts.measures, id);
  return m && m->confidence >= least_confidence ? m->value : otherwise;
}

double confidence_of(const FrameFacts& facts, std::string_view id) {
  const Measure* m = find(facts.measures, id);
  return m ? m->confidence : 0;
}

// A penalty counts as far as it is believed; the rest of it is doubt, so that a doubtful number never makes
// one frame surely better than another.
struct Penalty {
  double points = 0, doubt = 0;
};
Penalty weighed(double full, double confidence) {
  return {full * confidence, full * (1 - confidence)};
}

}  // namespace

double effective_blur(const FrameFacts& facts) {
  const Measure* blur = find(facts.measures, "blur_sigma_px");
  if (!blur) return -1;
  // Edges along the streak stay sharp and pull the pooled blur down; half of the streak's variance (L^2/12)
  // gives it back, weighted with how sure the streak is.
  const Measure* streak = find(facts.measures, "motion_px");
  const double variance = streak ? streak->confidence * streak->value * streak->value / 24 : 0;
  return std::sqrt(blur->value * blur->value + variance);
}

Standing standing_of(const FrameFacts& facts) {
  Standing out;
  const double blur = effective_blur(facts);
  if (!facts.decoded || !facts.damage.empty() || blur < 0) return out;
  const double confidence = find(facts.measures, "blur_sigma_px")->confidence;
  const Penalty whites =
      weighed(4 * clipped_whites(facts).penalty(), confidence_of(facts, "white_clipped_g"));
  const Penalty cut = weighed(2 * value_or(facts, "cut_by_edge", 0), confidence_of(facts, "cut_by_edge"));
  const double penalties = whites.points + cut.points;
  out.score = -std::log2(std::max(kSharpAsCanBe, blur)) - penalties;
  out.order = -std::log2(std::max(.3, blur)) - penalties;
  // 8 % at full confidence: the spread of repeated measurements in tests/measure.
  const double of_blur = std::log2(1.08) / std::clamp(confidence, .1, 1.0);
  out.uncertainty = of_blur + whites.doubt + cut.doubt;
  out.known = true;
  return out;
}

int stars_of(const FrameFacts& facts, const PolicyOptions& options) {
  const double blur = effective_blur(facts);
  int stars = blur < 0 ? 1 : blur <= .9 ? 5 : blur <= 1.2 ? 4 : blur <= 1.6 ? 3 : blur <= 2.0 ? 2 : 1;
  const ClippedWhites whites = clipped_whites(facts);
  if (whites.lost > options.clipped / 2 || whites.lost + whites.recoverable > options.clipped ||
      value_or(facts, "cut_by_edge", 0, options.sure) > options.cut)
    --stars;
  return std::max(1, stars);
}

}  // namespace burstsieve::rank
