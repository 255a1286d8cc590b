#include "burstsieve/report/interval.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace burstsieve::report {
namespace {

struct GroupTotals {
  double asked = 0, lost = 0, squares = 0;  // squares: of the bursts' frames
  double share() const { return asked > 0 ? lost / asked : 0; }
};

GroupTotals totals_of(const GroupParts& group) {
  GroupTotals out;
  for (const BurstPart& b : group) {
    out.asked += b.asked;
    out.lost += b.lost;
    out.squares += b.asked * b.asked;
  }
  return out;
}

double density(double z) {
  return std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi);
}

}  // namespace

Interval wilson(double lost, double asked, double z) {
  if (!(asked > 0)) return {};
  const double p = std::clamp(lost / asked, 0.0, 1.0), zz = z * z;
  const double middle = (p + zz / (2 * asked)) / (1 + zz / asked);
  const double half = z / (1 + zz / asked) * std::sqrt(p * (1 - p) / asked + zz / (4 * asked * asked));
  // Exactly 0 and 1 at the ends, which rounding would miss.
  return {lost > 0 ? std::max(0.0, middle - half) : 0, lost < asked ? std::min(1.0, middle + half) : 1};
}

double burst_likeness(const std::vector<GroupParts>& groups) {
  double frames = 0, bursts = 0, kinds = 0, between = 0, within = 0, unequal = 0;
  for (const GroupParts& group : groups) {
    if (group.empty()) continue;
    const GroupTotals all = totals_of(group);
    frames += all.asked;
    bursts += static_cast<double>(group.size());
    kinds += 1;
    unequal += all.squares / all.asked;
    for (const BurstPart& b : group) {
      const double p = b.lost / b.asked;
      between += b.asked * (p - all.share()) * (p - all.share());
      within += b.asked * p * (1 - p);
    }
  }
  if (bursts <= kinds || between + within <= 0) return 1;
  if (frames <= bursts) return 0;  // one frame per burst: nothing to be alike with
  const double ms_between = between / (bursts - kinds), ms_within = within / (frames - bursts);
  const double size = (frames - unequal) / (bursts - kinds);  // of a typical burst
  return std::clamp((ms_between - ms_within) / (ms_between + (size - 1) * ms_within), 0.0, 1.0);
}

Interval burst_interval(const GroupParts& group, double likeness) {
  const GroupTotals all = totals_of(group);
  if (!(all.asked > 0)) return {};
  const double effect = 1 + std::max(0.0, all.squares / all.asked - 1) * likeness;
  return wilson(all.lost / effect, all.asked / effect);
}

double normal_share_below(double z) {
  return std::erfc(-z / std::numbers::sqrt2) / 2;
}

double normal_quantile(double share) {
  double low = -10, high = 10;
  for (int i = 0; i < 80; ++i) {
    const double middle = (low + high) / 2;
    (normal_share_below(middle) < share ? low : high) = middle;
  }
  return (low + high) / 2;
}

CensoredNormal censored_normal(const std::vector<double>& above, std::size_t censored) {
  CensoredNormal out;
  if (above.size() < 2) return out;
  const double below = static_cast<double>(censored), n = static_cast<double>(above.size()) + below;
  double sum = 0, squares = 0;
  for (const double v : above) {
    sum += v;
    squares += v * v;
  }
  double mean = sum / n, sd = std::max(.05, std::sqrt(std::max(0.0, squares / n - mean * mean)));
  // Converges the slower the more is hidden: with nine tenths hidden within 1e-3 after some 500 steps.
  for (int step = 0; step < 2000; ++step) {
    const double share = std::max(1e-12, normal_share_below(-mean / sd));
    const double ratio = density(mean / sd) / share;
    // Mean and mean square of what lies below 0.
    const double hidden = mean - sd * ratio, hidden_square = mean * mean + sd * sd - sd * ratio * mean;
    const double next = (sum + below * hidden) / n;
    const double variance = (squares + below * hidden_square) / n - next * next;
    const double next_sd = std::max(.05, std::sqrt(std::max(0.0, variance)));
    const bool done = std::abs(next - mean) + std::abs(next_sd - sd) < 1e-9;
    mean = next;
    sd = next_sd;
    if (done) break;
  }
  out = {std::isfinite(mean) && std::isfinite(sd), mean, sd};
  return out;
}

}  // namespace burstsieve::report
