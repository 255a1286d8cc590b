#include "liked_reason.h"

#include <algorithm>
#include <array>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::rank {
namespace {

struct Point {
  double gain = 0;
  std::size_t feature = 0;
  bool more = false;
};

std::array<Point, kFeatures> points_for(const Features& kept, const Features& other, const Weights& weights,
                                        bool taste_only) {
  std::array<Point, kFeatures> out{};
  for (std::size_t i = 0; i < kFeatures; ++i) {
    const double more = kept[i].value - other[i].value;
    out[i] = {taste_only && feature_specs()[i].measured ? 0 : weights[i] * more, i, more > 0};
  }
  std::stable_sort(out.begin(), out.end(), [](const Point& a, const Point& b) { return a.gain > b.gain; });
  return out;
}

}  // namespace

Reason liked_reason(const FrameFacts& kept, const FrameFacts& measured_best, const std::string& name,
                    const std::optional<Weights>& learnt) {
  const auto points =
      points_for(features_of(kept), features_of(measured_best), learnt.value_or(default_weights()), !learnt);
  std::string why;
  double gain = 0;
  for (std::size_t i = 0; i < 2 && points[i].gain > 0; ++i) {
    gain += points[i].gain;
    const FeatureSpec& spec = feature_specs()[points[i].feature];
    why += std::string(why.empty() ? "" : ", ") + (points[i].more ? spec.more : spec.less);
  }
  if (why.empty()) why = "no single thing stands out";
  const std::string text = learnt ? "by what your choices taught, before " + name + ": " + why
                                  : "as sharp as " + name + " within the measurements, and " + why;
  return {"liked", text, gain, "", 0, 1};
}

}  // namespace burstsieve::rank
