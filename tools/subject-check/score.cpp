#include "score.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace burstsieve::subject_check {

Size size_of(const Region& box) {
  if (box.w < .07) return Size::tiny;
  if (box.w < .15) return Size::small;
  return box.w <= .30 ? Size::medium : Size::large;
}

const char* name_of(Size size) {
  switch (size) {
    case Size::tiny:
      return "< 7 %";
    case Size::small:
      return "7-15 %";
    case Size::medium:
      return "15-30 %";
    case Size::large:
      return "> 30 %";
  }
  return "";
}

std::string shown(const Count& c) {
  return c.all > 0 ? fmt::format("{:.0f} % ({} of {})", 100 * c.share(), c.hit, c.all) : "-";
}

std::vector<Match> matched(const std::vector<Region>& truth, const std::vector<Subject>& boxes) {
  std::vector<Match> out(truth.size());
  std::vector<const Subject*> order;
  for (const Subject& b : boxes) order.push_back(&b);
  std::stable_sort(order.begin(), order.end(),
                   [](const Subject* a, const Subject* b) { return a->confidence > b->confidence; });
  for (const Subject* box : order) {
    Match* chosen = nullptr;
    double most = kHit;
    for (std::size_t i = 0; i < truth.size(); ++i) {
      const double o = overlap(truth[i], box->box);
      out[i].best = std::max(out[i].best, o);
      if (!out[i].found && o >= most) most = o, chosen = &out[i];
    }
    if (chosen) chosen->found = true;
  }
  return out;
}

double Score::overlap_at(double quantile) const {
  if (overlaps.empty()) return 0;
  std::vector<double> sorted = overlaps;
  std::sort(sorted.begin(), sorted.end());
  const double at = quantile * static_cast<double>(sorted.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const std::size_t high = std::min(low + 1, sorted.size() - 1);
  return sorted[low] + (at - std::floor(at)) * (sorted[high] - sorted[low]);
}

void add(Score& score, const std::vector<Region>& truth, const std::vector<Subject>& boxes) {
  if (truth.empty()) {
    ++score.empty.all;
    if (!boxes.empty()) ++score.empty.hit;
    return;
  }
  const auto matches = matched(truth, boxes);
  for (std::size_t i = 0; i < truth.size(); ++i) {
    for (Count* c : {&score.animals, &score.by_size[size_of(truth[i])]}) {
      ++c->all;
      if (matches[i].found) ++c->hit;
    }
    if (matches[i].found) ++score.boxes.hit;
    score.overlaps.push_back(matches[i].best);
  }
  score.boxes.all += static_cast<int>(boxes.size());
}

void add_first(Score& score, const std::vector<Region>& truth, const std::vector<Subject>& boxes) {
  if (truth.empty()) return add(score, truth, boxes);
  const auto largest = std::max_element(truth.begin(), truth.end(),
                                        [](const Region& a, const Region& b) { return a.area() < b.area(); });
  double best = 0;
  if (!boxes.empty())
    for (const Region& t : truth) best = std::max(best, overlap(t, boxes.front().box));
  for (Count* c : {&score.animals, &score.by_size[size_of(*largest)]}) {
    ++c->all;
    if (best >= kHit) ++c->hit;
  }
  if (!boxes.empty()) {
    ++score.boxes.all;
    if (best >= kHit) ++score.boxes.hit;
  }
  score.overlaps.push_back(best);
}

}  // namespace burstsieve::subject_check
