#include "score.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

namespace burstsieve::series {
namespace {

constexpr double kDecided = .7;
constexpr std::size_t kMany = 6;
constexpr double kZ95 = 1.959964;

double wilson(const Share& s, double side) {
  if (s.of == 0) return side < 0 ? 0 : 1;
  const double n = s.of, p = s.value(), z = kZ95;
  const double middle = p + z * z / (2 * n), half = z * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  return std::clamp((middle + side * half) / (1 + z * z / n), 0.0, 1.0);
}

// Behind all others when there is no answer.
int place_of(const std::map<std::string, int>& place, const std::string& photograph) {
  const auto found = place.find(photograph);
  return found == place.end() || found->second < 1 ? 1'000'000 : found->second;
}

void add_pair(const PairChoice& c, const std::map<std::string, int>& place, Score& score) {
  if (c.share == .5) return;
  const int a = place_of(place, c.a), b = place_of(place, c.b);
  const double hit = a == b ? .5 : (a < b) == (c.share > .5) ? 1 : 0;
  score.pairs.hit += hit, ++score.pairs.of;
  if (std::max(c.share, 1 - c.share) >= kDecided - 1e-9)
    score.decided_pairs.hit += hit, ++score.decided_pairs.of;
}

// The photographs that people like best.
std::set<std::string> best_of(const std::vector<PairChoice>& choices) {
  std::map<std::string, std::pair<double, int>> mean;  // sum, pairs
  for (const PairChoice& c : choices) {
    mean[c.a].first += c.share, ++mean[c.a].second;
    mean[c.b].first += 1 - c.share, ++mean[c.b].second;
  }
  double best = -1;
  for (const auto& [name, m] : mean) best = std::max(best, m.first / m.second);
  std::set<std::string> out;
  for (const auto& [name, m] : mean)
    if (m.first / m.second >= best - 1e-9) out.insert(name);
  return out;
}

void count_top(const std::set<std::string>& best, const std::map<std::string, int>& place, int places,
               Share& out) {
  ++out.of;
  out.hit += std::any_of(best.begin(), best.end(),
                         [&](const std::string& name) { return place_of(place, name) <= places; });
}

}  // namespace

double Share::low() const {
  return wilson(*this, -1);
}
double Share::high() const {
  return wilson(*this, 1);
}

void add_series(const std::vector<PairChoice>& choices, const std::map<std::string, int>& place,
                Score& score) {
  std::set<std::string> photographs;
  for (const PairChoice& c : choices) {
    photographs.insert({c.a, c.b});
    add_pair(c, place, score);
  }
  if (photographs.empty()) return;
  for (const std::string& name : photographs) score.unmeasured += place_of(place, name) == 1'000'000;
  score.photographs += static_cast<int>(photographs.size());
  const auto best = best_of(choices);
  count_top(best, place, 1, score.top_1);
  count_top(best, place, 3, score.top_3);
  if (photographs.size() >= kMany) count_top(best, place, 3, score.top_3_of_many);
  score.mean_length = static_cast<double>(score.photographs) / score.top_1.of;
}

}  // namespace burstsieve::series
