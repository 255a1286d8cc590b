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
  const Liking measured = measured_liking(features_of(facts), default_weights());
  out.score = measured.value;
  out.order = measured.value + std::log2(std::max(kSharpAsCanBe, blur)) - std::log2(std::max(.3, blur));
  out.uncertainty = measured.uncertainty;
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
