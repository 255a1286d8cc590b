#include "burstsieve/rank/choice.h"

#include <algorithm>

namespace burstsieve::rank {

double worth(const std::vector<KeepOption>& options, const Shows& shows,
             const std::vector<std::size_t>& choice) {
  double out = 0;
  for (std::size_t i = 0; i < options.size(); ++i) {
    double shown = 0;
    for (const std::size_t k : choice) shown = std::max(shown, i == k ? 1.0 : shows(i, k));
    out += options[i].share * shown;
  }
  for (const std::size_t k : choice) out += kQualityWeight * options[k].quality;
  return out;
}

std::vector<std::size_t> chosen_keeps(const std::vector<KeepOption>& options, const Shows& shows,
                                      std::size_t most) {
  std::vector<std::size_t> out;
  while (out.size() < std::min(most, options.size())) {
    std::size_t best = options.size();
    double best_worth = -1;
    for (std::size_t k = 0; k < options.size(); ++k) {
      if (std::find(out.begin(), out.end(), k) != out.end()) continue;
      out.push_back(k);
      if (const double w = worth(options, shows, out); w > best_worth) best_worth = w, best = k;
      out.pop_back();
    }
    out.push_back(best);
  }
  return out;
}

}  // namespace burstsieve::rank
