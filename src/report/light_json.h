// The light of a burst and of an outing as JSON, for every report that holds one.
#pragma once
#include <nlohmann/json.hpp>
#include <vector>

#include "burstsieve/report/light.h"

namespace burstsieve::report {

// Numbers are rounded to .1 mired and .0001 of Duv; "shift_mired" is against the outing's median.
nlohmann::ordered_json light_json(const BurstLight& light);
nlohmann::ordered_json drifts_json(const std::vector<LightDrift>& drifts);

}  // namespace burstsieve::report
