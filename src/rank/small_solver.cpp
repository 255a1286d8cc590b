#include "small_solver.h"

#include <cmath>
#include <vector>

namespace burstsieve::rank {

std::optional<Weights> solve(const SquareMatrix& a, const Weights& b,
                             const std::array<bool, kFeatures>& free) {
  std::vector<std::size_t> at;
  for (std::size_t i = 0; i < kFeatures; ++i)
    if (free[i]) at.push_back(i);
  SquareMatrix lower{};
  Weights y{}, out{};
  for (std::size_t i = 0; i < at.size(); ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = a[at[i]][at[j]];
      for (std::size_t k = 0; k < j; ++k) sum -= lower[i][k] * lower[j][k];
      if (i == j && !(sum > 0)) return std::nullopt;
      lower[i][j] = i == j ? std::sqrt(sum) : sum / lower[j][j];
    }
    double sum = b[at[i]];
    for (std::size_t k = 0; k < i; ++k) sum -= lower[i][k] * y[k];
    y[i] = sum / lower[i][i];
  }
  for (std::size_t i = at.size(); i-- > 0;) {
    double sum = y[i];
    for (std::size_t k = i + 1; k < at.size(); ++k) sum -= lower[k][i] * out[at[k]];
    out[at[i]] = sum / lower[i][i];
  }
  return out;
}

}  // namespace burstsieve::rank
