#include "streak_points.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace burstsieve::measure {
namespace {

constexpr double kTopRadius = .47;       // cycles/px; the corners beyond hold diagonals only
constexpr double kRingWidth = 1.0 / 96;  // cycles/px
constexpr int kWedges = 24;              // of 7.5 degrees
constexpr int kStride = 2;               // neighbours are one after the spectrum's mean of nine
// Leakage and what is not uniform in the motion keep the bars from being black.
constexpr float kLeastFloor = .003f;

double quantile(std::vector<double> v, double q) {
  if (v.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), v.begin() + at, v.end());
  return v[static_cast<std::size_t>(at)];
}

// Below it lies the picture's mean brightness, spread by the window.
double lowest_of(const Points& p) {
  return std::max(1.5 / p.width, 2.0 / p.side);
}

void take_points(const Spectrum& s, Points& p) {
  p.side = s.log_power.rows;
  p.width = s.width;
  const double lowest = lowest_of(p);
  for (int row = 0; row < p.side; row += kStride) {
    const double v = static_cast<double>(row < p.side / 2 ? row : row - p.side) / p.side;
    const float* line = s.log_power.ptr<float>(row);
    for (int col = 0; col < s.log_power.cols; col += kStride) {
      const double u = static_cast<double>(col) / p.side, radius = std::hypot(u, v);
      if (radius < lowest || radius > kTopRadius || (col == 0 && row >= p.side / 2)) continue;
      p.u.push_back(static_cast<float>(u));
      p.v.push_back(static_cast<float>(v));
      p.data.push_back(line[col]);
      p.ring.push_back(static_cast<int>((radius - lowest) / kRingWidth));
      p.rings = std::max(p.rings, p.ring.back() + 1);
    }
  }
}

// Log signal by ring -> sigma: y = a - b log f - 4 pi^2 sigma^2 f^2, b held near the usual 2.4. Only down to
// the first deep fall: beyond the null of a defocus disc it rises again.
double fall_off(const std::vector<double>& snr, double lowest) {
  constexpr double kUsual = 2.4, kHold = 2.0, kDeep = 4.5;
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0, 0, 0};
  double top = -1e9;
  int used = 0;
  for (std::size_t r = 0; r < snr.size() && snr[r] > 1; ++r) {
    const double f = lowest + (static_cast<double>(r) + .5) * kRingWidth;
    const double y = std::log(snr[r]) + kUsual * std::log(f);  // level for a sharp usual texture
    top = std::max(top, y);
    if (y < top - kDeep) break;
    const cv::Vec3d basis{1, -std::log(f), -f * f};
    for (int i = 0; i < 3; ++i) {
      right[i] += basis[i] * y;
      for (int j = 0; j < 3; ++j) normal(i, j) += basis[i] * basis[j];
    }
    ++used;
  }
  if (used < 3) return 0;
  normal(1, 1) += kHold * used;
  const cv::Vec3d fit = normal.solve(right, cv::DECOMP_CHOLESKY);
  return std::isfinite(fit[2]) ? std::sqrt(std::max(0.0, fit[2])) / (2 * std::numbers::pi) : 0;
}

// How far the signal stands above the noise at every distance from the origin. The noise: the lowest wedges
// of the outer rings; the signal: the brightest wedges of the ring, where a streak leaves it alone.
void weigh(Points& p) {
  const auto rings = static_cast<std::size_t>(p.rings);
  std::vector<std::array<double, kWedges>> sum(rings), count(rings);
  for (auto* all : {&sum, &count})
    for (auto& ring : *all) ring.fill(0);
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double turn = std::atan2(p.v[i], p.u[i]) / static_cast<float>(std::numbers::pi) + .5;  // 0..1
    const auto wedge = static_cast<std::size_t>(std::clamp(turn * kWedges, 0.0, kWedges - 1.0));
    sum[static_cast<std::size_t>(p.ring[i])][wedge] += static_cast<double>(p.data[i]);
    count[static_cast<std::size_t>(p.ring[i])][wedge] += 1;
  }
  std::vector<double> outer, bright(rings, 0);
  for (std::size_t r = 0; r < rings; ++r) {
    std::vector<double> wedges;
    for (std::size_t k = 0; k < kWedges; ++k)
      if (count[r][k] > 0) wedges.push_back(sum[r][k] / count[r][k]);
    double points = 0;
    for (const double n : count[r]) points += n / kWedges;
    // Small rings have few points to a wedge: chance alone makes some of them bright.
    bright[r] = quantile(wedges, .9) - .6 / std::sqrt(std::max(1.0, points));
    if (r >= rings / 2) outer.insert(outer.end(), wedges.begin(), wedges.end());
  }
  // Of pure noise, the brightest and the lowest wedges differ by about this much.
  constexpr double kChance = .2;
  const double noise = quantile(outer, .03) + kChance;
  Floats ring_weight(rings), ring_floor(rings);
  std::vector<double> ratios;
  for (std::size_t r = 0; r < rings; ++r) {
    const double snr = std::max(0.0, std::exp(std::min(20.0, bright[r] - noise)) - 1);
    const double w = std::clamp((snr - .5) / (snr + 1), 0.0, 1.0);
    ratios.push_back(snr);
    ring_weight[r] = static_cast<float>(w);
    ring_floor[r] = std::max(kLeastFloor, static_cast<float>(1 / std::max(.1, snr)));
    p.reach += w / p.rings;
  }
  p.softness = fall_off(ratios, lowest_of(p));
  for (const int r : p.ring) {
    p.weight.push_back(ring_weight[static_cast<std::size_t>(r)]);
    p.floor.push_back(ring_floor[static_cast<std::size_t>(r)]);
  }
}

void fit_texture(Points& p) {
  // Held back by a twentieth: the bars of short streaks look much like the harmonics.
  constexpr double kRidge = .05;
  for (auto& h : p.own) h.resize(p.size());
  for (std::size_t i = 0; i < p.size(); ++i) {
    const float u = p.u[i], v = p.v[i], r2 = u * u + v * v;
    const float c2 = (u * u - v * v) / r2, s2 = 2 * u * v / r2, slow = .5f * std::log(r2 / (.12f * .12f));
    const std::array<float, kOwn> h{c2, s2, c2 * slow, s2 * slow, c2 * c2 - s2 * s2, 2 * c2 * s2};
    for (std::size_t k = 0; k < kOwn; ++k) p.own[k][i] = h[k];
  }
  for (std::size_t k = 0; k < kOwn; ++k) {
    centre_rings(p, p.own[k]);
    p.heavy_own[k] = p.own[k];
    for (std::size_t i = 0; i < p.size(); ++i) p.heavy_own[k][i] *= p.weight[i];
  }
  p.heavy_data = p.data;
  for (std::size_t i = 0; i < p.size(); ++i) p.heavy_data[i] *= p.weight[i];
  cv::Matx<double, kOwn, kOwn> normal;
  for (int k = 0; k < kOwn; ++k) {
    const Sums column = against_own(p, p.own[static_cast<std::size_t>(k)]);
    for (int j = 0; j < kOwn; ++j) normal(j, k) = column[j];
  }
  for (int k = 0; k < kOwn; ++k) normal(k, k) = normal(k, k) * (1 + kRidge) + 1e-6;
  p.inverse = normal.inv(cv::DECOMP_CHOLESKY);
  p.of_data = against_own(p, p.data);
  p.energy = dot(p.heavy_data, p.data) - p.of_data.dot(p.inverse * p.of_data);
}

}  // namespace

// Eight running sums: the compiler may not reorder one.
double dot(const Floats& a, const Floats& b) {
  std::array<float, 8> sum{};
  double total = 0;
  const std::size_t n = a.size(), whole = n - n % 8;
  for (std::size_t i = 0; i < whole; i += 8)
    for (std::size_t k = 0; k < 8; ++k) sum[k] += a[i + k] * b[i + k];
  for (std::size_t i = whole; i < n; ++i) total += static_cast<double>(a[i] * b[i]);
  for (const float s : sum) total += static_cast<double>(s);
  return total;
}

void centre_rings(const Points& p, Floats& values) {
  std::vector<double> sum(static_cast<std::size_t>(p.rings), 0), count(sum);
  for (std::size_t i = 0; i < p.size(); ++i) {
    sum[static_cast<std::size_t>(p.ring[i])] += static_cast<double>(values[i]);
    count[static_cast<std::size_t>(p.ring[i])] += 1;
  }
  for (std::size_t k = 0; k < sum.size(); ++k) sum[k] /= std::max(1.0, count[k]);
  for (std::size_t i = 0; i < p.size(); ++i)
    values[i] -= static_cast<float>(sum[static_cast<std::size_t>(p.ring[i])]);
}

Sums against_own(const Points& p, const Floats& values) {
  Sums b;
  for (int k = 0; k < kOwn; ++k) b[k] = dot(p.heavy_own[static_cast<std::size_t>(k)], values);
  return b;
}

Points points_of(const Spectrum& s) {
  Points p;
  take_points(s, p);
  if (p.size() < 200) return {};
  weigh(p);
  centre_rings(p, p.data);
  for (float& d : p.data) d = std::clamp(d, -6.0f, 4.0f);  // glints, and the bottoms of bars
  fit_texture(p);
  return p;
}

Points thinned(const Points& p, std::size_t stride) {
  Points q;
  q.rings = p.rings;
  q.width = p.width;
  q.side = p.side;
  for (std::size_t i = 0; i < p.size(); i += stride) {
    q.u.push_back(p.u[i]);
    q.v.push_back(p.v[i]);
    q.data.push_back(p.data[i]);
    q.weight.push_back(p.weight[i]);
    q.floor.push_back(p.floor[i]);
    q.ring.push_back(p.ring[i]);
  }
  fit_texture(q);
  return q;
}

}  // namespace burstsieve::measure
