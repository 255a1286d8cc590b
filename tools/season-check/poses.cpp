#include "poses.h"

#include <map>
#include <utility>

namespace burstsieve::season_check {
namespace {

double pairs_of(double n) {
  return n * (n - 1) / 2;
}

std::vector<int> numbered(const std::vector<std::string>& names) {
  std::map<std::string, int> numbers;
  std::vector<int> out;
  for (const std::string& name : names)
    out.push_back(numbers.emplace(name, static_cast<int>(numbers.size())).first->second);
  return out;
}

void count_pairs(const std::vector<int>& groups, const std::vector<int>& truth, PoseAgreement& out) {
  for (std::size_t i = 0; i < groups.size(); ++i)
    for (std::size_t k = i + 1; k < groups.size(); ++k) {
      const bool together = groups[i] == groups[k], same = truth[i] == truth[k];
      out.together += together;
      out.same += same;
      out.together_right += together && same;
      out.same_found += together && same;
    }
}

}  // namespace

double adjusted_rand_index(std::span<const int> a, std::span<const int> b) {
  std::map<int, double> in_a, in_b;
  std::map<std::pair<int, int>, double> in_both;
  for (std::size_t i = 0; i < a.size(); ++i) {
    in_a[a[i]] += 1;
    in_b[b[i]] += 1;
    in_both[{a[i], b[i]}] += 1;
  }
  double both = 0, sum_a = 0, sum_b = 0;
  for (const auto& [key, n] : in_both) both += pairs_of(n);
  for (const auto& [key, n] : in_a) sum_a += pairs_of(n);
  for (const auto& [key, n] : in_b) sum_b += pairs_of(n);
  const double all = pairs_of(static_cast<double>(a.size()));
  const double expected = all > 0 ? sum_a * sum_b / all : 0, most = (sum_a + sum_b) / 2;
  return most - expected > 1e-12 ? (both - expected) / (most - expected) : 1;
}

PoseAgreement agreement(std::span<const Labelled> bursts) {
  PoseAgreement out;
  std::vector<int> all_groups, all_truth;
  int base = 0, counted = 0;
  for (const Labelled& b : bursts) {
    const std::vector<int> truth = numbered(b.poses);
    for (std::size_t i = 0; i < truth.size(); ++i) {
      all_groups.push_back(base + b.groups[i]);
      all_truth.push_back(base + truth[i]);
    }
    base += static_cast<int>(truth.size()) + 1;
    if (truth.size() < 2) continue;
    ++counted;
    out.mean_index += adjusted_rand_index(b.groups, truth);
    count_pairs(b.groups, truth, out);
  }
  if (counted > 0) out.mean_index /= counted;
  out.pooled_index = adjusted_rand_index(all_groups, all_truth);
  return out;
}

}  // namespace burstsieve::season_check
