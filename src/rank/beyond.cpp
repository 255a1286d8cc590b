#include "beyond.h"

#include <algorithm>
#include <cmath>

#include "burstsieve/rank/policy.h"

namespace burstsieve::rank {
namespace {

double logistic(double x) {
  return 1 / (1 + std::exp(-x));
}

// Factors of two by which `value` lies above the limit; what is far below it says no more than `floor` of it.
double steps(double value, double limit, double floor) {
  return std::log2(std::max(value, floor * limit) / limit);
}

// The seasons hold next to no number of less than this confidence: what is less sure counts in proportion.
double believed(const Measure& m, double from) {
  return std::min(1.0, m.confidence / from);
}
constexpr double kBlurFrom = .6, kWhitesFrom = .35;

}  // namespace

// Coefficients as tools/season-check/fit.py prints them.
double surely_softer(const FrameFacts& facts, double limit_px) {
  const Measure* blur = find(facts.measures, "blur_sigma_px");
  if (!blur) return 0;
  // A second witness: fine texture that is there though the edges read soft.
  const Measure* texture = find(facts.measures, "texture_blur_px");
  const double witness = texture ? 1.79 * steps(texture->value, limit_px, .25) : -.46;
  return believed(*blur, kBlurFrom) * logistic(1.63 + 2.42 * steps(blur->value, limit_px, .25) + witness);
}

double surely_streaked(const FrameFacts& facts, double limit_px) {
  const Measure* streak = find(facts.measures, "motion_px");
  if (!streak || !(streak->value > 0)) return 0;
  return logistic(.39 + 2.21 * steps(streak->value, limit_px, .25) + 4.36 * (streak->confidence - .9));
}

double surely_cut(const FrameFacts& facts, double limit) {
  const Measure* cut = find(facts.measures, "cut_by_edge");
  if (!cut || !(cut->value > 0)) return 0;
  return logistic(.41 + 1.70 * steps(cut->value, limit, .05));
}

double surely_clipped(const FrameFacts& facts, double lost, double limit) {
  const Measure* whites = find(facts.measures, "white_clipped_g");
  if (!whites || !(lost > 0)) return 0;
  return believed(*whites, kWhitesFrom) * logistic(1.45 + 1.32 * steps(lost, limit, .05));
}

double surely_softer_than(const FrameFacts& one, const FrameFacts& other) {
  const Measure* blur = find(one.measures, "blur_sigma_px");
  const Measure* others_blur = find(other.measures, "blur_sigma_px");
  if (!blur || !others_blur) return 0;
  const auto ratio = [](double a, double b) {
    return std::log2(std::max(kSharpAsCanBe, a) / std::max(kSharpAsCanBe, b));
  };
  const Measure* a = find(one.measures, "texture_blur_px");
  const Measure* b = find(other.measures, "texture_blur_px");
  return believed(*blur, kBlurFrom) * believed(*others_blur, kBlurFrom) *
         logistic(-1.84 + 2.09 * ratio(effective_blur(one), effective_blur(other)) +
                  (a && b ? 2.79 * ratio(a->value, b->value) : 0));
}

}  // namespace burstsieve::rank
