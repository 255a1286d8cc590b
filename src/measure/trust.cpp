#include "burstsieve/measure/trust.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::measure {

const TrustCurve* trust_curve(std::string_view id, bool sensor, double value) {
  const auto curves = trust_curves();
  const auto it = std::find_if(curves.begin(), curves.end(), [&](const TrustCurve& c) {
    return c.id == id && c.sensor == sensor && value > c.from && value <= c.upto;
  });
  return it == curves.end() ? nullptr : &*it;
}

double calibrated(const TrustCurve& curve, double evidence) {
  if (!(evidence > 0)) return 0;
  const double place = std::min(1.0, evidence) * (kTrustKnots - 1);
  const auto low = std::min(static_cast<std::size_t>(place), curve.share.size() - 2);
  const double part = place - static_cast<double>(low);
  return curve.share[low] + part * (curve.share[low + 1] - curve.share[low]);
}

double evidence_of(const TrustCurve& curve, double calibrated) {
  if (!(calibrated > 0)) return 0;
  if (calibrated <= curve.share.front()) return 0;
  for (std::size_t i = 1; i < curve.share.size(); ++i)
    if (calibrated <= curve.share[i])
      return (static_cast<double>(i - 1) +
              (calibrated - curve.share[i - 1]) / (curve.share[i] - curve.share[i - 1])) /
             (kTrustKnots - 1);
  return 1;
}

void calibrate(std::vector<Measure>& measures, std::size_t first) {
  for (std::size_t i = first; i < measures.size(); ++i) {
    Measure& m = measures[i];
    if (const TrustCurve* curve = trust_curve(m.id, m.basis == "raw mosaic", m.value))
      m.confidence = calibrated(*curve, m.confidence);
  }
}

}  // namespace burstsieve::measure
