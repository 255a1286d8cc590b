#include "learn.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "random.h"

namespace burstsieve::heads {
namespace {

using subject::kLookFeatures;

// One vector of weights with Adam's moments.
struct Weights {
  std::vector<float> w, m, v, g;
  explicit Weights(std::size_t n) : w(n), m(n), v(n), g(n) {}
  void step(float rate, float decay, int t) {
    const float b1 = .9f, b2 = .999f;
    const float c1 = 1 - std::pow(b1, static_cast<float>(t)), c2 = 1 - std::pow(b2, static_cast<float>(t));
    for (std::size_t i = 0; i < w.size(); ++i) {
      m[i] = b1 * m[i] + (1 - b1) * g[i];
      v[i] = b2 * v[i] + (1 - b2) * g[i] * g[i];
      w[i] -= rate * (m[i] / c1 / (std::sqrt(v[i] / c2) + 1e-8f) + decay * w[i]);
      g[i] = 0;
    }
  }
};

}  // namespace

subject::HeadScorer learn(const std::vector<Example>& examples, std::size_t units, int epochs, float decay,
                          std::uint64_t seed) {
  subject::HeadScorer out;
  const std::size_t n = kLookFeatures, count = examples.size();
  std::vector<double> mean(n), square(n);
  for (const Example& e : examples)
    for (std::size_t i = 0; i < n; ++i) mean[i] += e.x[i], square[i] += static_cast<double>(e.x[i]) * e.x[i];
  for (std::size_t i = 0; i < n; ++i) {
    const double m = mean[i] / static_cast<double>(count),
                 var = square[i] / static_cast<double>(count) - m * m;
    out.mean.push_back(static_cast<float>(m));
    out.scale.push_back(static_cast<float>(1 / std::sqrt(std::max(var, 1e-6))));
  }
  std::vector<float> x(n * count);
  for (std::size_t k = 0; k < count; ++k)
    for (std::size_t i = 0; i < n; ++i)
      x[k * n + i] = std::clamp((examples[k].x[i] - out.mean[i]) * out.scale[i], -4.0f, 4.0f);

  generate::Random random(seed);
  const std::size_t ends = units ? units : n;
  Weights top(ends + 1);
  std::vector<Weights> low(units, Weights(n + 1));
  for (auto& u : low)
    for (std::size_t i = 0; i < n; ++i)
      u.w[i] = static_cast<float>(random.uniform(-1, 1) / std::sqrt(double(n)));
  for (std::size_t u = 0; u < units; ++u) top.w[u] = static_cast<float>(random.uniform(-.5, .5));
  std::vector<std::size_t> order(count);
  std::iota(order.begin(), order.end(), std::size_t{0});
  const std::size_t batch = 256;
  int t = 0;
  std::vector<float> act(units), pre(units);
  for (int e = 0; e < epochs; ++e) {
    for (std::size_t i = count; i > 1; --i)
      std::swap(order[i - 1], order[static_cast<std::size_t>(random.below(static_cast<int>(i)))]);
    const float rate = .003f * (e < epochs * 2 / 3 ? 1.0f : .2f);
    for (std::size_t from = 0; from < count; from += batch) {
      const std::size_t to = std::min(count, from + batch);
      for (std::size_t k = from; k < to; ++k) {
        const Example& ex = examples[order[k]];
        const float* row = &x[order[k] * n];
        float z = top.w[ends];
        if (!units)
          for (std::size_t i = 0; i < n; ++i) z += top.w[i] * row[i];
        for (std::size_t u = 0; u < units; ++u) {
          const float* w = low[u].w.data();
          float a = w[n];
          for (std::size_t i = 0; i < n; ++i) a += w[i] * row[i];
          pre[u] = a, act[u] = std::max(a, .1f * a);
          z += top.w[u] * act[u];
        }
        const float p = 1 / (1 + std::exp(-z));
        const float d = ex.weight * (p - (ex.head ? 1.0f : 0.0f)) / static_cast<float>(to - from);
        top.g[ends] += d;
        if (!units)
          for (std::size_t i = 0; i < n; ++i) top.g[i] += d * row[i];
        for (std::size_t u = 0; u < units; ++u) {
          top.g[u] += d * act[u];
          const float dd = d * top.w[u] * (pre[u] > 0 ? 1.0f : .1f);
          float* g = low[u].g.data();
          for (std::size_t i = 0; i < n; ++i) g[i] += dd * row[i];
          g[n] += dd;
        }
      }
      ++t;
      top.step(rate, 0, t);
      for (auto& u : low) u.step(rate, decay, t);
    }
  }
  for (auto& u : low) out.hidden.push_back(u.w);
  out.out = top.w;
  return out;
}

}  // namespace burstsieve::heads
