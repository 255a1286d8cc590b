// Counting how often a confidence was right, and the curve that mends it.
#pragma once
#include <array>
#include <string>
#include <vector>

#include "burstsieve/measure/trust.h"

namespace burstsieve::calibrate {

// One value that the engine gave about a frame of known truth.
struct Sample {
  std::string measure;
  bool sensor = false;    // from the raw mosaic
  double confidence = 0;  // as given
  bool within = false;    // the tolerance
  double value = 0, truth = 0;
  int burst = 0;  // where it came from
};

inline constexpr int kBins = 10;
struct Bin {
  int values = 0, within = 0;
  double confidence = 0;  // mean of the values
  double share() const { return values > 0 ? static_cast<double>(within) / values : 0; }
  // Standard error of the share, were the confidences true.
  double error() const;
};

// Ten bins of equal width by confidence. `samples`: of one measure.
std::array<Bin, kBins> binned(const std::vector<Sample>& samples);

// Share against evidence (confidence of an instrument itself), by least squares on hat functions around the
// knots, drawn to the mean (below .5, to less) where samples are few, made rising by pooling adjacent
// violators (Ayer et al., Ann. Math. Statist. 26(4), 1955; from memory). confidence of `samples`: evidence.
std::array<double, measure::kTrustKnots> fitted(const std::vector<Sample>& samples);

// Mean of |share - confidence| over the values: expected calibration error.
double calibration_error(const std::vector<Sample>& samples);

}  // namespace burstsieve::calibrate
