#include "profile_chain.h"

#include <algorithm>

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
double handover(double sigma, double noise) {
  const double start = std::max(.8, 2.8 - 80 * noise);
  return std::clamp(std::max(sigma - start, (noise - .08) / .06), 0.0, 1.0);
}

// 70 free-standing edge pixels pin the width to a few percent (the nuthatch's eye, 30 of them: within 9 %);
// below 10 it is a guess. Where hardly any of the edges stands free, those that do may be chance: brick in
// heavy noise, 9 % of 3,500.
double enough_edges(const EdgeProfile& p, int level) {
  const double many = std::clamp((static_cast<double>(p.edges << level) - 8) / 60, .05, 1.0);
  const double common = p.seen > 0 ? std::clamp(p.edges / (.15 * p.seen), .3, 1.0) : 0;
  return many * common;
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
  double sigma = blur.sigma * (1 << level), noise = noise_at(detail, level),
         enough = enough_edges(at(level), level);
  for (++level; level < kLevels; ++level) {
    part *= handover(blur.sigma, noise_at(detail, level - 1));
    const ProfileBlur finer = blur;
    blur = profile_blur(at(level));
    if (part <= 0 || !blur.known) break;
    // Takes the place of what the level before it had been given.
    sigma += part * (blur.sigma * (1 << level) - finer.sigma * (1 << (level - 1)));
    noise += part * (noise_at(detail, level) - noise_at(detail, level - 1));
    enough += part * (enough_edges(at(level), level) - enough_edges(at(level - 1), level - 1));
  }
  const double confidence = .95 * enough * (1 - noise) * (begin > 0 ? .85 : 1);
  return EdgeBlur{sigma, std::clamp(confidence, 0.0, 1.0)};
}

}  // namespace

bool profile_hands_over(const Detail& detail, int level) {
  const ProfileBlur blur = profile_blur(profile_at(detail, level, kAllDirections));
  return !blur.known || handover(blur.sigma, noise_at(detail, level)) > 0;
}

std::optional<EdgeBlur> profile_chain(const Detail& detail) {
  return chain_over(detail, kAllDirections);
}

std::optional<EdgeBlur> profile_chain(const Detail& detail, int direction) {
  return chain_over(detail, direction);
}

}  // namespace burstsieve::measure
