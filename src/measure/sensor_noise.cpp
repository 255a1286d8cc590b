#include "sensor_noise.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::measure {
namespace {

constexpr int kRun = 10;    // blocks
constexpr int kTones = 12;  // even in the square root of the level: even in shot noise
constexpr std::size_t kMinRuns = 20;
// The quietest fifth of the means of 8 squared second differences of white noise lies at .45 of their mean
// (simulated; tests/measure/white_texture_test.cpp holds the estimate against planted noise).
constexpr double kQuietShare = .45;

struct Run {
  double level = 0, energy = 0;
};

Run run_of(const Blocks& blocks, int row, int col) {
  std::array<double, kRun> g{};
  Run out;
  for (int i = 0; i < kRun; ++i) {
    g[static_cast<std::size_t>(i)] = blocks.at(row, col + i).mean[1];
    out.level += g[static_cast<std::size_t>(i)] / kRun;
  }
  for (std::size_t i = 0; i + 2 < kRun; ++i) {
    const double d = g[i] - 2 * g[i + 1] + g[i + 2];
    out.energy += d * d / 6 / (kRun - 2);
  }
  return out;
}

double greens_per_block(const Blocks& blocks) {
  const decode::Mosaic& m = blocks.mosaic();
  const auto sites = static_cast<std::ptrdiff_t>(m.cfa_side) * m.cfa_side;
  const double all =
      static_cast<double>(std::count(m.cfa.begin(), m.cfa.begin() + sites, decode::CfaColour::green));
  return all * blocks.side() * blocks.side() / static_cast<double>(sites);
}

struct Tone {
  double level = 0, variance = 0;
};

Tone quietest(std::vector<Run>& runs) {
  const auto fifth = runs.begin() + static_cast<std::ptrdiff_t>(runs.size() / 5);
  std::nth_element(runs.begin(), fifth, runs.end(),
                   [](const Run& a, const Run& b) { return a.energy < b.energy; });
  return {fifth->level, fifth->energy / kQuietShare};
}

}  // namespace

double BlockNoise::variance(double level) const {
  return std::max(0.0, slope * std::max(0.0, level) + offset);
}

BlockNoise block_noise(const Blocks& blocks) {
  const BlockNoise seen = block_noise_of_pixels(blocks);
  const auto& stated = blocks.mosaic().noise;
  if (!stated || !blocks.usable()) return seen;
  const double greens = greens_per_block(blocks);
  const BlockNoise profile{(*stated)[1].shot / greens, (*stated)[1].read / greens, true};
  constexpr double kMiddle = .2, kShareSeen = .25;
  if (seen.known && seen.variance(kMiddle) < kShareSeen * profile.variance(kMiddle)) return seen;
  return profile;
}

BlockNoise block_noise_of_pixels(const Blocks& blocks) {
  BlockNoise out;
  if (!blocks.usable()) return out;
  std::array<std::vector<Run>, kTones> by_tone;
  // 6,000 runs are plenty.
  const double all = static_cast<double>(blocks.rows()) * (blocks.cols() / kRun);
  const int step = std::max(1, static_cast<int>(all / 6000));
  int n = 0;
  for (int row = 0; row < blocks.rows(); ++row)
    for (int col = 0; col + kRun <= blocks.cols(); col += kRun, ++n) {
      if (n % step != 0) continue;
      const Run run = run_of(blocks, row, col);
      if (run.level > .9) continue;  // near the clip noise is cut off
      const double tone = std::sqrt(std::clamp(run.level, 0.0, .999)) * kTones;
      by_tone[static_cast<std::size_t>(tone)].push_back(run);
    }
  // Weighted least squares of variance = slope level + offset, equal relative errors.
  double w = 0, wx = 0, wxx = 0, wy = 0, wxy = 0;
  for (auto& runs : by_tone) {
    if (runs.size() < kMinRuns) continue;
    const Tone t = quietest(runs);
    const double weight = 1 / std::max(1e-16, t.variance * t.variance);
    w += weight, wx += weight * t.level, wxx += weight * t.level * t.level;
    wy += weight * t.variance, wxy += weight * t.level * t.variance;
    out.known = true;
  }
  if (!out.known) return out;
  const double det = w * wxx - wx * wx;
  if (det > 1e-9 * w * wxx) {
    out.slope = (w * wxy - wx * wy) / det;
    out.offset = (wxx * wy - wx * wxy) / det;
  } else {  // one tone: shot noise, as on every sensor that is not black
    out.slope = wx > 0 ? wy / wx : 0;
  }
  if (out.slope < 0) out.slope = 0, out.offset = wy / w;
  if (out.offset < 0) out.offset = 0, out.slope = wxx > 0 ? wxy / wxx : 0;
  return out;
}

}  // namespace burstsieve::measure
