// Written by `burstsieve-calibrate --fit`; run it again after every change of an instrument.
#include "burstsieve/measure/trust.h"

namespace burstsieve::measure {

std::span<const TrustCurve> trust_curves() {
  return {};
}

}  // namespace burstsieve::measure
