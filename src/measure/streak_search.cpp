#include "streak_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace burstsieve::measure {
namespace {

// px; a little below the shortest that is reported, so that the shortest is no end of range
constexpr double kSearchFrom = 2.2;

double mean_floor(const Points& p) {
  double sum = 0, total = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    sum += static_cast<double>(p.weight[i] * std::log(p.floor[i]));
    total += static_cast<double>(p.weight[i]);
  }
  return total > 0 ? std::exp(sum / total) : 1;
}

// Data beyond the harmonics, weighted.
Floats unexplained(const Points& p) {
  const Sums solved = p.inverse * p.of_data;
  Floats out = p.heavy_data;
  for (int k = 0; k < kOwn; ++k) {
    const auto c = static_cast<float>(solved[k]);
    const Floats& h = p.heavy_own[static_cast<std::size_t>(k)];
    for (std::size_t i = 0; i < p.size(); ++i) out[i] -= c * h[i];
  }
  return out;
}

constexpr int kBins = 256;  // across 0 .. .5 cycles/px

// The bars of one length along a line, over one floor for all distances.
struct Comb {
  double length = 0, square = 0;
  std::array<float, kBins> bars{};
};

std::vector<Comb> combs(const Points& p, double longest) {
  const auto floor = static_cast<float>(mean_floor(p));
  Points flat = p;
  std::fill(flat.floor.begin(), flat.floor.end(), floor);
  std::vector<Comb> out;
  for (double length = kSearchFrom; length <= longest; length *= 1.08) {
    Comb comb;
    comb.length = length;
    const double crisp = crispness(p, length);
    comb.square = match(flat, pattern(flat, length, .4, crisp)).square;  // .4: off the grid's symmetries
    for (std::size_t b = 0; b < kBins; ++b) {
      const auto x = static_cast<float>(length * (static_cast<double>(b) + .5) / kBins * .5);
      comb.bars[b] = std::log((transfer(x, static_cast<float>(crisp)) + floor) / (1 + floor));
    }
    out.push_back(comb);
  }
  return out;
}

// The data summed over lines across each angle meet the bars of every length at once.
std::vector<Candidate> first_look(const Points& p, double longest) {
  constexpr int kAngles = 60;
  constexpr std::size_t kKept = 4;
  const Floats data = unexplained(p);
  const auto all = combs(p, longest);
  std::vector<Candidate> found;
  for (int a = 0; a < kAngles; ++a) {
    const double angle = a * std::numbers::pi / kAngles;
    const auto c = static_cast<float>(std::cos(angle) * 2 * kBins),
               s = static_cast<float>(std::sin(angle) * 2 * kBins);
    std::array<float, kBins> line{};
    for (std::size_t i = 0; i < p.size(); ++i)
      line[static_cast<std::size_t>(
          std::min(kBins - 1, static_cast<int>(std::abs(p.u[i] * c + p.v[i] * s))))] += data[i];
    for (const Comb& comb : all) {
      double product = 0;
      for (std::size_t b = 0; b < kBins; ++b) product += static_cast<double>(line[b] * comb.bars[b]);
      found.push_back({comb.length, angle, 2 * product - comb.square, 0});
    }
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Candidate& a, const Candidate& b) { return a.gain > b.gain; });
  std::vector<Candidate> kept;
  for (const Candidate& c : found) {
    if (kept.size() >= kKept) break;
    const bool apart = std::all_of(kept.begin(), kept.end(), [&](const Candidate& k) {
      return std::abs(std::remainder(k.angle - c.angle, std::numbers::pi)) > .2 ||
             std::abs(std::log(k.length / c.length)) > .25;
    });
    if (apart) kept.push_back(c);
  }
  return kept;
}

// What is climbed: the spectrum's bars or their envelope, with the edges or without them.
struct Hill {
  const Points& points;
  const EdgeWidths& edges;
  double longest = 0;
  bool envelope = false;
};

struct Place {
  Candidate at;
  double height = -1e30;  // log likelihood less that of no streak
};

// The differences between directions as so many independent witnesses; their error is what is left of them.
double spectrum_log(const Points& p, double gain) {
  const double witnesses = 30 + 150 * p.reach;
  return -.5 * witnesses * std::log(std::max(.02, 1 - gain / p.energy));
}

// What edges say of the direction of a long streak is coarse beside what the bars say.
double edges_log(const EdgeWidths& edges, double length, double angle) {
  if (edges.empty()) return 0;
  const double part = std::clamp(1.4 - length / 14, .25, 1.0);
  return part * (log_likelihood(edges, length, angle) - log_likelihood(edges, 0, 0));
}

Place place_at(const Hill& hill, double length, double angle) {
  const Candidate at = judged(hill.points, length, angle, hill.envelope);
  const double edges = hill.envelope ? 0 : edges_log(hill.edges, length, angle);
  return {at, spectrum_log(hill.points, at.gain) + edges};
}

// Uphill in angle and length by ever smaller steps, down to `finest` radians.
Place climbed(const Hill& hill, const Candidate& start, double first, double finest) {
  Place best = place_at(hill, start.length, start.angle);
  for (double turn = first; turn > finest;) {
    const double stretch = 1.2 * turn;
    bool moved = false;
    for (const auto& [da, dl] : {std::pair{turn, 0.0}, {-turn, 0.0}, {0.0, stretch}, {0.0, -stretch}}) {
      const double length = std::clamp(best.at.length * (1 + dl), .8 * kSearchFrom, hill.longest);
      const Place next = place_at(hill, length, best.at.angle + da);
      if (next.height > best.height) best = next, moved = true;
    }
    if (!moved) turn /= 2;
  }
  return best;
}

}  // namespace

Found search(const Points& p, const EdgeWidths& edges, double longest) {
  const Points few = thinned(p, 3);
  const double step = 1.5 * std::numbers::pi / 60;
  auto starts = first_look(few, longest);
  if (const EdgeStreak guess = edge_streak(edges); guess.length > kSearchFrom)
    starts.push_back({std::min(guess.length, longest), guess.angle, 0, 0});
  const EdgeWidths none;
  Place best;
  double best_height = -1e30;
  for (const Candidate& c : starts) {
    const Place top = climbed({few, edges, longest, false}, c, step, .01);
    // Bars beyond their envelope count: rows of bricks have the better envelope.
    const Place envelope = climbed({few, none, longest, true}, top.at, step, .02);
    const double height = top.height - std::max(0.0, envelope.height);
    if (height > best_height) best = top, best_height = height;
  }
  best = climbed({p, edges, longest, false}, best.at, .02, .004);
  const Place envelope = climbed({p, none, longest, true}, best.at, step, .01);
  return {best.at, std::max(0.0, envelope.at.gain), edges_log(edges, best.at.length, best.at.angle)};
}

}  // namespace burstsieve::measure
