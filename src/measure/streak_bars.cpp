#include "streak_bars.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace burstsieve::measure {
namespace {

// sinc^2(x) by table, 0..48; beyond it, nothing is left.
class SincSquared {
 public:
  SincSquared() {
    for (std::size_t i = 0; i < table_.size(); ++i) {
      const double x = static_cast<double>(i) / kPer * std::numbers::pi;
      table_[i] = static_cast<float>(x < 1e-6 ? 1 : std::pow(std::sin(x) / x, 2));
    }
  }
  float operator()(float x) const {
    const float at = std::min(std::abs(x) * kPer, static_cast<float>(table_.size() - 2));
    const auto i = static_cast<std::size_t>(at);
    const float part = at - static_cast<float>(i);
    return table_[i] + part * (table_[i + 1] - table_[i]);
  }

 private:
  static constexpr int kPer = 64;
  std::array<float, 48 * kPer> table_{};
};

}  // namespace

double crispness(const Points& p, double length) {
  const double window = .42 / p.width;     // standard deviation of a Hann window's power kernel
  const double neighbours = .82 / p.side;  // of three samples
  return std::exp(-2 * std::pow(std::numbers::pi * length * std::hypot(window, neighbours), 2));
}

float transfer(float x, float crisp) {
  static const SincSquared sinc_squared;
  constexpr auto kPi2 = static_cast<float>(std::numbers::pi * std::numbers::pi);
  return crisp * sinc_squared(x) + (1 - crisp) * .5f / (.5f + kPi2 * x * x);
}

Floats pattern(const Points& p, double length, double angle, double crisp) {
  const auto c = static_cast<float>(length * std::cos(angle)),
             s = static_cast<float>(length * std::sin(angle));
  const auto m = static_cast<float>(crisp);
  Floats out(p.size());
  for (std::size_t i = 0; i < p.size(); ++i)
    out[i] = (transfer(p.u[i] * c + p.v[i] * s, m) + p.floor[i]) / (1 + p.floor[i]);
  cv::Mat view(1, static_cast<int>(out.size()), CV_32F, out.data());
  cv::log(view, view);
  centre_rings(p, out);
  return out;
}

Match match(const Points& p, const Floats& t) {
  Match m;
  std::array<float, 8> sum{};
  const std::size_t n = t.size();
  for (std::size_t i = 0; i + 8 <= n; i += 8)
    for (std::size_t k = 0; k < 8; ++k) sum[k] += p.weight[i + k] * t[i + k] * t[i + k];
  for (std::size_t i = n - n % 8; i < n; ++i) m.square += static_cast<double>(p.weight[i] * t[i] * t[i]);
  for (const float s : sum) m.square += static_cast<double>(s);
  const Sums own = against_own(p, t), solved = p.inverse * own;
  m.square -= solved.dot(own);
  m.product = dot(p.heavy_data, t) - solved.dot(p.of_data);
  return m;
}

Candidate judged(const Points& p, double length, double angle, bool envelope) {
  const Match m = match(p, pattern(p, length, angle, envelope ? 0 : crispness(p, length)));
  return {length, angle, 2 * m.product - m.square, m.square > 0 ? m.product / m.square : 0};
}

}  // namespace burstsieve::measure
