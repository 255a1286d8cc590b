#include "burstsieve/model/measure.h"

#include <algorithm>

namespace burstsieve {

const Measure* find(const std::vector<Measure>& measures, std::string_view id) {
  for (const Measure& m : measures)
    if (m.id == id) return &m;
  return nullptr;
}

const char* name_of(HeadView view) {
  switch (view) {
    case HeadView::unknown:
      return "unknown";
    case HeadView::visible:
      return "visible";
    case HeadView::hidden:
      return "hidden";
  }
  return "unknown";
}

const char* sharpness_from(const Subject& s) {
  if (s.head) return "of the head, where it shows enough detail";
  return "no trusted head: of the focus area, or else of the strongest detail in the subject";
}

bool CellMask::holds(double x, double y) const {
  if (empty() || where.empty()) return false;
  const double u = (x - where.x) / where.w, v = (y - where.y) / where.h;
  if (!(u >= 0 && u < 1 && v >= 0 && v < 1)) return false;
  return at(std::min(cols - 1, static_cast<int>(u * cols)), std::min(rows - 1, static_cast<int>(v * rows)));
}

}  // namespace burstsieve
