#include "look_model.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::subject {
namespace {

// Added to each variance: a plain sky must not make the slightest haze another thing.
constexpr double kLeastVariance = 2.0;

struct LookGroup {
  std::vector<Look> looks;
  cv::Vec<double, kLookSize> mean{};
  cv::Matx<double, kLookSize, kLookSize> covariance{};
  cv::Vec<double, kLookSize> axis{};
  double spread = 0;  // variance along the axis, times the count
};

void describe(LookGroup& g) {
  g.mean = {};
  for (const Look& l : g.looks)
    for (int i = 0; i < kLookSize; ++i) g.mean[i] += static_cast<double>(l[i]);
  const double n = std::max<double>(1, static_cast<double>(g.looks.size()));
  g.mean *= 1 / n;
  g.covariance = {};
  for (const Look& l : g.looks)
    for (int i = 0; i < kLookSize; ++i)
      for (int j = 0; j <= i; ++j)
        g.covariance(i, j) +=
            (static_cast<double>(l[i]) - g.mean[i]) * (static_cast<double>(l[j]) - g.mean[j]) / n;
  for (int i = 0; i < kLookSize; ++i)
    for (int j = i + 1; j < kLookSize; ++j) g.covariance(i, j) = g.covariance(j, i);
  // The longest axis by power iteration; a start that favours no axis.
  g.axis = {1, .9, .8, .7};
  for (int k = 0; k < 12; ++k) {
    const auto next = g.covariance * g.axis;
    const double length = cv::norm(next);
    if (!(length > 1e-12)) break;
    g.axis = next * (1 / length);
  }
  g.spread = (g.axis.t() * g.covariance * g.axis)[0] * static_cast<double>(g.looks.size());
}

// The halves below and above the mean along the longest axis.
std::array<LookGroup, 2> split(const LookGroup& g) {
  std::array<LookGroup, 2> out;
  for (const Look& l : g.looks) {
    double along = 0;
    for (int i = 0; i < kLookSize; ++i) along += (static_cast<double>(l[i]) - g.mean[i]) * g.axis[i];
    out[along > 0].looks.push_back(l);
  }
  for (LookGroup& half : out) describe(half);
  return out;
}

}  // namespace

LookModel::LookModel(const std::vector<Look>& looks, int parts) {
  if (looks.empty()) return;
  std::vector<LookGroup> groups(1);
  groups[0].looks = looks;
  describe(groups[0]);
  while (static_cast<int>(groups.size()) < parts) {
    const auto widest =
        std::max_element(groups.begin(), groups.end(),
                         [](const LookGroup& a, const LookGroup& b) { return a.spread < b.spread; });
    auto halves = split(*widest);
    if (halves[0].looks.size() < 8 || halves[1].looks.size() < 8) break;
    *widest = std::move(halves[0]);
    groups.push_back(std::move(halves[1]));
  }
  for (const LookGroup& g : groups) {
    cv::Matx<double, kLookSize, kLookSize> c = g.covariance, l{}, inverse{};
    for (int i = 0; i < kLookSize; ++i) c(i, i) += kLeastVariance;
    double log_volume = 0;
    for (int i = 0; i < kLookSize; ++i)
      for (int j = 0; j <= i; ++j) {
        double sum = c(i, j);
        for (int k = 0; k < j; ++k) sum -= l(i, k) * l(j, k);
        l(i, j) = i == j ? std::sqrt(std::max(sum, 1e-9)) : sum / l(j, j);
      }
    for (int i = 0; i < kLookSize; ++i) {
      log_volume += std::log(l(i, i));
      for (int j = 0; j <= i; ++j) {
        double sum = i == j ? 1 : 0;
        for (int k = j; k < i; ++k) sum -= l(i, k) * inverse(k, j);
        inverse(i, j) = sum / l(i, i);
      }
    }
    Part part;
    std::size_t at = 0;
    for (int i = 0; i < kLookSize; ++i) {
      part.mean[i] = static_cast<float>(g.mean[i]);
      for (int j = 0; j <= i; ++j) part.whitening[at++] = static_cast<float>(inverse(i, j));
    }
    const double weight = static_cast<double>(g.looks.size()) / static_cast<double>(looks.size());
    part.offset = static_cast<float>(std::log(weight) - log_volume);
    parts_.push_back(part);
  }
}

float LookModel::cost(const Look& look) const {
  float best = 1e9f;
  for (const Part& p : parts_) {
    float sum = 0;
    std::size_t at = 0;
    for (int i = 0; i < kLookSize; ++i) {
      float v = 0;
      for (int j = 0; j <= i; ++j) v += p.whitening[at++] * (look[j] - p.mean[j]);
      sum += v * v;
    }
    best = std::min(best, .5f * sum - p.offset);  // the nearest part stands for the sum
  }
  return parts_.empty() ? 0 : best;
}

}  // namespace burstsieve::subject
