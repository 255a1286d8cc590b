#include "streak_belief.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace burstsieve::measure {
namespace {

constexpr std::size_t kFeatures = 15;
using Features = std::array<double, kFeatures>;

Features features_of(const Evidence& e) {
  const double length = std::max(2.0, e.length);
  const double size = std::log(length / 8);  // bars of short streaks are wide, of long ones pale
  const double bars = 5 * std::sqrt(std::clamp(e.bars, 0.0, .2));
  const double share = 5 * std::clamp(e.share, 0.0, .5);
  return {1,
          bars,
          share,
          std::clamp(std::abs(std::log(std::max(.05, e.amplitude))), 0.0, 1.0),
          std::clamp(e.edges, -4.0, 12.0) / 5,
          std::clamp(size, -1.3, 1.0),
          std::clamp(size, 0.0, 2.0),
          std::log(std::clamp(e.reach, .05, 1.0)),
          length < 2.7 ? 1.0 : 0.0,
          bars * std::clamp(size, 0.0, 2.0),
          share * std::clamp(size, 0.0, 2.0),
          std::clamp(e.edges, -4.0, 0.0),
          std::clamp(e.softness, 0.0, 3.0),
          std::clamp(e.edge_blur, 0.0, 3.0),
          length > kLongestStreak ? 1.0 : 0.0};
}

// Logistic regression (ridge .5, Newton) over the subjects and backgrounds of motion_cases::tuning() with
// lengths from 3 px: 1,200 cases of seeds 77 and 78, two regions each. tests/measure/motion_test.cpp holds
// the result against the held-out set.
constexpr Features kStreaked{-3.279, 1.353,  3.669,  0.090, 1.047,  -1.033, 0.872, -1.229,
                             -2.373, -0.046, -1.205, 0.703, -0.693, 0.124,  -0.817};
constexpr Features kRight{-1.205, 1.146, 1.076, -1.225, 0.393,  0.684,  -3.178, 0.104,
                          -3.112, 1.492, 0.735, 0.459,  -0.495, -0.055, -4.837};

double probability(const Features& weights, const Features& f) {
  double sum = 0;
  for (std::size_t i = 0; i < kFeatures; ++i) sum += weights[i] * f[i];
  return 1 / (1 + std::exp(-sum));
}

}  // namespace

Belief believed(const Evidence& e) {
  const Features f = features_of(e);
  return {probability(kStreaked, f), probability(kRight, f)};
}

}  // namespace burstsieve::measure
