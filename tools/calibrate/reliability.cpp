#include "reliability.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

namespace burstsieve::calibrate {
namespace {

constexpr int kKnots = measure::kTrustKnots;
constexpr double kPrior = 8;     // samples' worth at every knot
constexpr double kSmooth = 3;    // and of the neighbours
constexpr double kWeak = .5;     // evidence from which on the prior is the mean
constexpr double kRise = .0005;  // from knot to knot at least, so that the curve can be inverted

struct Block {
  double sum, weight;
  int knots;
  double mean() const { return sum / weight; }
};

void make_rising(std::array<double, kKnots>& value, const std::array<double, kKnots>& weight) {
  std::vector<Block> blocks;
  for (std::size_t k = 0; k < value.size(); ++k) {
    blocks.push_back({value[k] * weight[k], weight[k], 1});
    while (blocks.size() > 1 && blocks[blocks.size() - 2].mean() >= blocks.back().mean()) {
      const Block last = blocks.back();
      blocks.pop_back();
      blocks.back() = {blocks.back().sum + last.sum, blocks.back().weight + last.weight,
                       blocks.back().knots + last.knots};
    }
  }
  std::size_t k = 0;
  for (const Block& b : blocks)
    for (int i = 0; i < b.knots; ++i) value[k++] = b.mean();
}

}  // namespace

double Bin::error() const {
  const double p = std::clamp(confidence, .02, .98);
  return values > 0 ? std::sqrt(p * (1 - p) / values) : 1;
}

std::array<Bin, kBins> binned(const std::vector<Sample>& samples) {
  std::array<Bin, kBins> out{};
  for (const Sample& s : samples) {
    Bin& bin =
        out[static_cast<std::size_t>(std::clamp(static_cast<int>(s.confidence * kBins), 0, kBins - 1))];
    ++bin.values;
    bin.within += s.within;
    bin.confidence += s.confidence;
  }
  for (Bin& b : out)
    if (b.values > 0) b.confidence /= b.values;
  return out;
}

std::array<double, kKnots> fitted(const std::vector<Sample>& samples) {
  cv::Mat1d normal(kKnots, kKnots, 0.0), right(kKnots, 1, 0.0);
  std::array<double, kKnots> weight{};
  double mean = 0;
  for (const Sample& s : samples) mean += s.within / static_cast<double>(samples.size());
  for (const Sample& s : samples) {
    const double place = std::clamp(s.confidence, 0.0, 1.0) * (kKnots - 1);
    const int low = std::min(static_cast<int>(place), kKnots - 2);
    const double part = place - low;
    const std::array<double, 2> hat{1 - part, part};
    for (int i = 0; i < 2; ++i) {
      right(low + i) += hat[static_cast<std::size_t>(i)] * s.within;
      weight[static_cast<std::size_t>(low + i)] += hat[static_cast<std::size_t>(i)];
      for (int j = 0; j < 2; ++j)
        normal(low + i, low + j) += hat[static_cast<std::size_t>(i)] * hat[static_cast<std::size_t>(j)];
    }
  }
  for (int k = 0; k < kKnots; ++k) {
    normal(k, k) += kPrior;
    // Where nothing was seen, weak evidence counts less.
    right(k) += kPrior * mean * std::min(1.0, k / (kWeak * (kKnots - 1)));
    weight[static_cast<std::size_t>(k)] += kPrior;
    if (k + 1 == kKnots) break;
    normal(k, k) += kSmooth, normal(k + 1, k + 1) += kSmooth;
    normal(k, k + 1) -= kSmooth, normal(k + 1, k) -= kSmooth;
  }
  cv::Mat1d solution;
  cv::solve(normal, right, solution, cv::DECOMP_CHOLESKY);
  std::array<double, kKnots> out{};
  for (int k = 0; k < kKnots; ++k) out[static_cast<std::size_t>(k)] = solution(k);
  make_rising(out, weight);
  for (int k = 0; k < kKnots; ++k) {
    double& v = out[static_cast<std::size_t>(k)];
    v = std::clamp(v, .01, .99 - kRise * kKnots) + kRise * k;
  }
  return out;
}

double calibration_error(const std::vector<Sample>& samples) {
  double sum = 0;
  for (const Bin& b : binned(samples)) sum += b.values * std::abs(b.share() - b.confidence);
  return samples.empty() ? 0 : sum / static_cast<double>(samples.size());
}

}  // namespace burstsieve::calibrate
