// Linear algebra of a dozen unknowns.
#pragma once
#include <array>
#include <cstddef>
#include <optional>

#include "burstsieve/rank/preference.h"

namespace burstsieve::rank {

using SquareMatrix = std::array<std::array<double, kFeatures>, kFeatures>;

// Solves a x = b for symmetric positive definite `a` by Cholesky's decomposition, over the unknowns marked in
// `free`; the others come out 0. Nothing when `a` is not positive definite there.
std::optional<Weights> solve(const SquareMatrix& a, const Weights& b,
                             const std::array<bool, kFeatures>& free);

}  // namespace burstsieve::rank
