#include "light_json.h"

#include <cmath>

#include "burstsieve/base/text.h"

namespace burstsieve::report {
namespace {

using Json = nlohmann::ordered_json;

double tenths(double v) {
  return std::round(v * 10) / 10;
}

}  // namespace

Json light_json(const BurstLight& b) {
  return {{"mired", tenths(b.mired)},
          {"kelvin", std::round(1e6 / b.mired)},
          {"uncertainty_mired", tenths(b.uncertainty)},
          {"duv", std::round(b.duv * 1e4) / 1e4},
          {"frames", b.frames},
          {"confidence", std::round(b.confidence * 100) / 100}};
}

Json drifts_json(const std::vector<LightDrift>& drifts) {
  Json out = Json::array();
  for (const LightDrift& d : drifts) {
    Json one{{"camera", one_line(d.camera)},
             {"constant", d.constant},
             {"mired", tenths(d.mired)},
             {"text", drift_text(d)}};
    if (d.step) one["largest_step"] = {{"at", *d.step}, {"mired", tenths(d.step_mired)}};
    one["bursts"] = Json::array();
    for (std::size_t i = 0; i < d.bursts.size(); ++i) {
      Json burst = Json::object();
      if (d.bursts[i].number > 0) burst["number"] = d.bursts[i].number;
      if (d.bursts[i].time_ms) burst["time_ms"] = *d.bursts[i].time_ms;
      burst.update(light_json(d.bursts[i]));
      burst["shift_mired"] = tenths(d.shift[i]);
      one["bursts"].push_back(burst);
    }
    out.push_back(one);
  }
  return out;
}

}  // namespace burstsieve::report
