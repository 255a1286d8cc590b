#include "burstsieve/model/measure.h"

namespace burstsieve {

const Measure* find(const std::vector<Measure>& measures, std::string_view id) {
  for (const Measure& m : measures)
    if (m.id == id) return &m;
  return nullptr;
}

}  // namespace burstsieve
