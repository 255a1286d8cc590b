#include "profile_chain.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::measure {
namespace {

constexpr int kAllDirections = -1;

const EdgeProfile& profile_at(const Detail& detail, int level, int direction) {
  const auto l = static_cast<std::size_t>(level);
  return direction == kAllDirections ? detail.profiles[l]
                                     : detail.directed[l][static_cast<std::size_t>(direction)];
}

double noise_at(const Detail& detail, int level) {
  return detail.levels[static_cast<std::size_t>(level)].noise_ratio;
}

// Weight of the coarser level when the finer one says `sigma` of its pixels. A clean level is right up to
// 3 px, and closer to the truth than the coarser one on dense texture. In noise the free-standing edges are
// picked by chance, the sharper ones rather than the softer, from a width on that falls with the noise; from
// a share of .14 on what is picked is mostly noise itself. Tuned on dead leaves (seeds 5 and 7 at 0, 2 and 6
// %) and the photographs of tools/compare.
double profile_handover(double sigma, double noise) {
  const double start = std::max(.8, 2.8 - 80 * noise);
  return std::clamp(std::max(sigma - start, (noise - .08) / .06), 0.0, 1.0);
}

// What a level's answer rests on. Linear in its parts, so that levels mix as their answers do.
struct ChainEvidence {
  double log_edges = 0;  // free-standing edge pixels
  double common = 0;     // their share of all edge pixels: few of many may be chance (brick in heavy noise)
  double noise = 0;      // share of noise in the edges' energy
  ChainEvidence plus(double part, const ChainEvidence& coarser, const ChainEvidence& finer) const {
    return {log_edges + part * (coarser.log_edges - finer.log_edges),
            common + part * (coarser.common - finer.common), noise + part * (coarser.noise - finer.noise)};
  }
};

ChainEvidence evidence_at(const Detail& detail, int level, int direction) {
  const EdgeProfile& p = profile_at(detail, level, direction);
  return {std::log(std::max(8, p.edges)), p.seen > 0 ? static_cast<double>(p.edges) / p.seen : 0,
          std::clamp(noise_at(detail, level), 0.0, 1.0)};
}

// Probability that the answer is within 15 % of the truth: logistic regression over the cases 1..1,854 of
// tools/compare/cases.h; docs/measures.md has its reliability on held-out ones. coarse: full size had no
// answer. Below 1 px the same error in px is more in percent.
double confidence_of(const ChainEvidence& e, bool coarse, double sigma) {
  constexpr double kMostEdges = 300;  // more tell no more
  const double below_one = std::clamp(1 - sigma, 0.0, .5);
  const double odds = -.808 + .838 * std::min(e.log_edges, std::log(kMostEdges)) + .733 * e.common -
                      7.86 * std::sqrt(std::max(0.0, e.noise)) - .509 * coarse - 3.973 * below_one;
  return 1 / (1 + std::exp(-odds));
}

std::optional<EdgeBlur> chain_over(const Detail& detail, int direction) {
  const auto at = [&](int level) -> const EdgeProfile& { return profile_at(detail, level, direction); };
  // So soft that full size shows no edge: the first level that does begins.
  int level = 0;
  ProfileBlur blur;
  for (; level < kLevels; ++level) {
    blur = profile_blur(at(level));
    if (blur.known) break;
  }
  if (!blur.known) return std::nullopt;
  const int begin = level;
  double part = 1;  // what the finer levels have handed on
  double sigma = blur.sigma * (1 << level);
  ChainEvidence evidence = evidence_at(detail, level, direction);
  for (++level; level < kLevels; ++level) {
    part *= profile_handover(blur.sigma, noise_at(detail, level - 1));
    const ProfileBlur finer = blur;
    blur = profile_blur(at(level));
    if (part <= 0 || !blur.known) break;
    // Takes the place of what the level before it had been given.
    sigma += part * (blur.sigma * (1 << level) - finer.sigma * (1 << (level - 1)));
    evidence =
        evidence.plus(part, evidence_at(detail, level, direction), evidence_at(detail, level - 1, direction));
  }
  return EdgeBlur{sigma, confidence_of(evidence, begin > 0, sigma)};
}

}  // namespace

bool profile_hands_over(const Detail& detail, int level) {
  const ProfileBlur blur = profile_blur(profile_at(detail, level, kAllDirections));
  return !blur.known || profile_handover(blur.sigma, noise_at(detail, level)) > 0;
}

std::optional<EdgeBlur> profile_chain(const Detail& detail) {
  return chain_over(detail, kAllDirections);
}

std::optional<EdgeBlur> profile_chain(const Detail& detail, int direction) {
  return chain_over(detail, direction);
}

}  // namespace burstsieve::measure
