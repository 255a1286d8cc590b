#include "burstsieve/rank/learning.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "small_solver.h"

namespace burstsieve::rank {
namespace {

using Groups = std::vector<const ChoiceGroup*>;
using FreeSet = std::array<bool, kFeatures>;

// Scales that are believed at all: from hardly better than a coin for frames a factor of two apart in blur
// (exp(.25) = 1.3 to 1) to certainty for a tenth of that.
constexpr double kLeastScale = .25, kMostScale = 40;
constexpr double kUsualScale = 4, kScaleSpread = 1;  // prior of the scale: logarithm, wide
constexpr int kFolds = 5;
constexpr int kRounds = 4;  // of weights and scale in turn; the third changes less than 1 %

double dot(const Weights& w, const std::array<double, kFeatures>& d) {
  double out = 0;
  for (std::size_t i = 0; i < kFeatures; ++i) out += w[i] * d[i];
  return out;
}

// log(1 / (1 + exp(-z))) without overflow.
double log_sigmoid(double z) {
  return z > 0 ? -std::log1p(std::exp(-z)) : z - std::log1p(std::exp(z));
}

double log_likelihood(const ChoiceGroup& group, const Weights& w, double scale) {
  double out = 0;
  for (const Choice& c : group.choices) out += c.weight * log_sigmoid(scale * dot(w, c.difference));
  return out;
}

// Golden section over the logarithm of the scale.
double fitted_scale(const Groups& groups, const Weights& w) {
  const auto value = [&](double t) {
    double out = -.5 * std::pow((t - std::log(kUsualScale)) / kScaleSpread, 2);
    for (const ChoiceGroup* g : groups) out += log_likelihood(*g, w, std::exp(t));
    return out;
  };
  const double golden = (std::sqrt(5.0) - 1) / 2;
  double low = std::log(kLeastScale), high = std::log(kMostScale);
  double a = high - golden * (high - low), b = low + golden * (high - low);
  double at_a = value(a), at_b = value(b);
  for (int i = 0; i < 30; ++i) {  // to 1e-6 of the logarithm
    if (at_a >= at_b) {
      high = b, b = a, at_b = at_a;
      at_a = value(a = high - golden * (high - low));
    } else {
      low = a, a = b, at_a = at_b;
      at_b = value(b = low + golden * (high - low));
    }
  }
  return std::exp((low + high) / 2);
}

// The posterior of weights (not yet scaled) at a given scale.
class Posterior {
 public:
  Posterior(const Groups& groups, const Weights& base, double prior, double scale)
      : groups_(groups), base_(base), scale_(scale) {
    for (std::size_t i = 0; i < kFeatures; ++i)
      precision_[i] = std::pow(feature_specs()[i].spread / prior, 2);
  }
  double value(const Weights& w) const {
    double out = 0;
    for (std::size_t i = 0; i < kFeatures; ++i) out -= .5 * precision_[i] * std::pow(w[i] - base_[i], 2);
    for (const ChoiceGroup* g : groups_) out += log_likelihood(*g, w, scale_);
    return out;
  }
  // Gradient, and the negative Hessian, which is positive definite thanks to the prior.
  void slopes(const Weights& w, Weights& gradient, SquareMatrix& curvature) const {
    gradient = {};
    curvature = {};
    for (const ChoiceGroup* g : groups_)
      for (const Choice& c : g->choices) add(c, w, gradient, curvature);
    for (std::size_t i = 0; i < kFeatures; ++i) {
      gradient[i] -= precision_[i] * (w[i] - base_[i]);
      curvature[i][i] += precision_[i];
      for (std::size_t j = 0; j < i; ++j) curvature[j][i] = curvature[i][j];
    }
  }

 private:
  void add(const Choice& c, const Weights& w, Weights& gradient, SquareMatrix& curvature) const {
    const double wrong = std::exp(log_sigmoid(-scale_ * dot(w, c.difference)));
    const double slope = c.weight * scale_ * wrong, bend = slope * scale_ * (1 - wrong);
    for (std::size_t i = 0; i < kFeatures; ++i) {
      gradient[i] += slope * c.difference[i];
      for (std::size_t j = 0; j <= i; ++j) curvature[i][j] += bend * c.difference[i] * c.difference[j];
    }
  }
  const Groups& groups_;
  const Weights& base_;
  double scale_;
  Weights precision_{};
};

Weights within_bounds(Weights w) {
  for (std::size_t i = 0; i < kFeatures; ++i)
    w[i] = std::clamp(w[i], feature_specs()[i].least, feature_specs()[i].most);
  return w;
}

// False for a weight at a bound that the gradient holds it against.
FreeSet free_at(const Weights& w, const Weights& gradient) {
  FreeSet out{};
  for (std::size_t i = 0; i < kFeatures; ++i) {
    const FeatureSpec& s = feature_specs()[i];
    out[i] = !(w[i] <= s.least && gradient[i] <= 0) && !(w[i] >= s.most && gradient[i] >= 0);
  }
  return out;
}

// Projected Newton: the top of a concave function inside a box.
Weights top_of(const Posterior& posterior, Weights w) {
  constexpr int kMostSteps = 60;
  for (int step = 0; step < kMostSteps; ++step) {
    Weights gradient;
    SquareMatrix curvature;
    posterior.slopes(w, gradient, curvature);
    const auto direction = solve(curvature, gradient, free_at(w, gradient));
    if (!direction) return w;
    const double before = posterior.value(w);
    Weights next = w;
    double length = 1;
    for (; length > 1e-6; length /= 2) {
      for (std::size_t i = 0; i < kFeatures; ++i) next[i] = w[i] + length * (*direction)[i];
      next = within_bounds(next);
      if (posterior.value(next) > before) break;
    }
    if (length <= 1e-6) return w;
    double moved = 0;
    for (std::size_t i = 0; i < kFeatures; ++i)
      moved = std::max(moved, std::abs(next[i] - w[i]) * feature_specs()[i].spread);
    w = next;
    if (moved < 1e-9) break;
  }
  return w;
}

struct Fit {
  Weights weights{};  // normalised
  double scale = 1;
};

// Weights and scale in turn: a scale fitted for weights that foretell badly is too small, and would hold the
// weights back.
Fit fitted(const Groups& groups, const Weights& base, double prior) {
  Fit out{base, fitted_scale(groups, base)};
  for (int round = 0; round < kRounds; ++round) {
    out.weights = normalised(top_of(Posterior(groups, base, prior, out.scale), out.weights));
    out.scale = fitted_scale(groups, out.weights);
  }
  return out;
}

Weights deviations(const Groups& groups, const Fit& fit, const Weights& base, double prior) {
  Weights gradient, out{};
  SquareMatrix curvature;
  Posterior(groups, base, prior, fit.scale).slopes(fit.weights, gradient, curvature);
  FreeSet all;
  all.fill(true);
  for (std::size_t i = 0; i < kFeatures; ++i) {
    Weights unit{};
    unit[i] = 1;
    if (const auto column = solve(curvature, unit, all)) out[i] = std::sqrt(std::max(0.0, (*column)[i]));
  }
  return out;
}

// Share of the weight of its choices that the weights foretell; a tie is half foretold.
double foretold(const ChoiceGroup& group, const Weights& w) {
  double out = 0;
  for (const Choice& c : group.choices) {
    const double z = dot(w, c.difference);
    out += c.weight * (z > 0 ? 1 : z < 0 ? 0 : .5);
  }
  return out;
}

// Foretells each of five parts in order from the other four.
void cross_check(const Groups& groups, const Weights& base, const LearningOptions& o, Learnt& out) {
  std::vector<double> gains;
  double weight = 0, right_base = 0, right_learnt = 0;
  for (std::size_t fold = 0; fold < kFolds; ++fold) {
    const std::size_t from = groups.size() * fold / kFolds, to = groups.size() * (fold + 1) / kFolds;
    Groups others(groups.begin(), groups.begin() + static_cast<std::ptrdiff_t>(from));
    others.insert(others.end(), groups.begin() + static_cast<std::ptrdiff_t>(to), groups.end());
    const double base_scale = fitted_scale(others, base);
    const Fit fit = fitted(others, base, o.prior);
    for (std::size_t i = from; i < to; ++i) {
      gains.push_back(log_likelihood(*groups[i], fit.weights, fit.scale) -
                      log_likelihood(*groups[i], base, base_scale));
      right_base += foretold(*groups[i], base);
      right_learnt += foretold(*groups[i], fit.weights);
      for (const Choice& c : groups[i]->choices) weight += c.weight;
    }
  }
  const double n = static_cast<double>(gains.size());
  double sum = 0, squares = 0;
  for (const double g : gains) sum += g;
  out.gain = sum / n;
  for (const double g : gains) squares += (g - out.gain) * (g - out.gain);
  const double error = std::sqrt(squares / n / (n - 1));
  out.gain_sure = error > 0 ? out.gain / error : 0;
  out.agreed_base = right_base / weight;
  out.agreed_learnt = right_learnt / weight;
}

void count(const ChoiceGroup& group, Learnt& out) {
  out.overrides += group.overrides;
  out.agreements += group.overrides == 0;
  out.choices += static_cast<int>(group.choices.size());
  for (std::size_t i = 0; i < kFeatures; ++i)
    out.informed[i] += std::any_of(group.choices.begin(), group.choices.end(), [i](const Choice& c) {
      return std::abs(c.difference[i]) >= feature_specs()[i].spread / 2;
    });
}

}  // namespace

Learnt learn(std::span<const ChoiceGroup> groups, const Weights& base, const LearningOptions& options) {
  Learnt out;
  out.weights = out.base = base;
  Groups useful;
  for (const ChoiceGroup& g : groups) {
    if (g.choices.empty()) continue;
    useful.push_back(&g);
    count(g, out);
  }
  if (out.overrides < 1) return out;
  const Fit fit = fitted(useful, base, options.prior);
  out.weights = fit.weights;
  out.scale = fit.scale;
  out.uncertainty = deviations(useful, fit, base, options.prior);
  if (useful.size() < 2 * kFolds) return out;
  cross_check(useful, base, options, out);
  out.in_use =
      out.overrides >= options.enough && out.gain_sure >= options.sure && out.agreed_learnt > out.agreed_base;
  return out;
}

}  // namespace burstsieve::rank
