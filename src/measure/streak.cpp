#include "burstsieve/measure/streak.h"

#include <algorithm>
#include <cmath>

#include "edge_streak.h"
#include "streak_belief.h"
#include "streak_search.h"

namespace burstsieve::measure {

Streak find_streak(const Spectrum& spectrum, const Detail& detail, int orientation) {
  Streak out;
  if (spectrum.windows == 0) return out;
  const Points p = points_of(spectrum);
  if (p.size() == 0 || !(p.energy > 0)) return out;
  out.reach = p.reach;
  out.softness = p.softness;
  // A tenth of the frequencies clear of noise is the least that shows a bar.
  if (p.reach < .04) return out;
  const double longest = std::min(kLongestStreak * 1.05, spectrum.width / 3);
  const EdgeWidths edges = edge_widths(detail, orientation);
  const Found found = search(p, edges, longest);
  const Candidate& best = found.bars;
  out.share = best.gain / p.energy;
  out.bars = (best.gain - found.envelope) / p.energy;
  out.amplitude = best.amplitude;
  out.edges = found.edges;
  out.edge_directions = static_cast<int>(edges.size());
  // The window's taper draws long bars apart: 20 px read 19.7 and 40 px 38.4 over 170 px before.
  const double length = best.length / (1 - .17 * best.length / spectrum.width);
  out.seen_length = length;
  out.seen_degrees = upright_degrees(best.angle, orientation);
  const EdgeBlur blur = edge_blur(detail);
  const Belief belief = believed({length, out.share, out.bars, out.amplitude, out.reach, out.edges,
                                  out.softness, blur.sigma * blur.confidence});
  // At the end of the range it is a line of the picture, or longer than can be told.
  const bool in_range = length >= kShortestStreak && length <= kLongestStreak;
  if (belief.streaked < .5 || !in_range) {
    // Noise alone reaches .06: where hardly more stands clear of it, no streak could show.
    out.confidence = (1 - belief.streaked) * std::clamp((p.reach - .05) / .1, 0.0, 1.0);
    return out;
  }
  out.length = length;
  out.degrees = out.seen_degrees;
  out.confidence = belief.right;
  return out;
}

bool streak_possible(const Detail& detail) {
  double least = 1e9, most = 0;
  int known = 0;
  for (int k = 0; k < kDirections; ++k) {
    const EdgeBlur blur = edge_blur(detail, k);
    if (blur.confidence <= .1) continue;
    least = std::min(least, blur.sigma * blur.sigma);
    most = std::max(most, blur.sigma * blur.sigma);
    ++known;
  }
  // Where edges of most directions are missing, they may be missing because they are streaked.
  if (known < kDirections * 2 / 3) return true;
  return most - least > .5 * kShortestStreak * kShortestStreak / 12 || least > 1;
}

}  // namespace burstsieve::measure
