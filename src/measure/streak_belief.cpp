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
// lengths from 3 px: 1,320 cases of seeds 77 and 78. tests/measure/motion_test.cpp holds the result against
// the held-out set.
constexpr Features kStreaked{-3.076, 1.697,  3.501,  0.488, 1.603,  -0.559, 1.240, -0.545,
                             -1.527, -0.272, -1.483, 0.401, -0.276, -0.633, -0.298};
constexpr Features kRight{-1.004, 1.190, 1.181, -2.576, 0.432,  1.082,  -2.951, 0.094,
                          -1.798, 1.707, 0.252, 0.251,  -0.383, -0.251, -4.076};

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
