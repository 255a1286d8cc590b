#include "gaps.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "burstsieve/subject/detector.h"

namespace burstsieve::pipeline {
namespace {

// Two decodes in place of one for this share of a burst at most, one frame in any.
constexpr std::size_t kOneIn = 8;

Region holding(const Region& a, const Region& b) {
  const double w = std::max(a.w, b.w), h = std::max(a.h, b.h);
  const double x = (a.centre_x() + b.centre_x()) / 2, y = (a.centre_y() + b.centre_y()) / 2;
  return clamped({x - w / 2, y - h / 2, w, h});
}

std::optional<Region> sighting(const std::vector<FrameFacts>& frames, std::size_t i) {
  if (i >= frames.size() || !seen_by_detector(frames[i])) return std::nullopt;
  return frames[i].subjects.front().box;
}

}  // namespace

bool seen_by_detector(const FrameFacts& facts) {
  return !facts.subjects.empty() && facts.subjects.front().source.starts_with(subject::kDetectorSource);
}

std::vector<Gap> gaps_of(const std::vector<FrameFacts>& frames) {
  std::vector<Gap> between, beside;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (!frames[i].decoded || !frames[i].damage.empty() || seen_by_detector(frames[i])) continue;
    const auto before = i > 0 ? sighting(frames, i - 1) : std::nullopt, after = sighting(frames, i + 1);
    if (before && after)
      between.push_back({i, holding(*before, *after)});
    else if (before || after)
      beside.push_back({i, before ? *before : *after});
  }
  std::vector<Gap> out = std::move(between);
  out.insert(out.end(), beside.begin(), beside.end());
  out.resize(std::min(out.size(), std::max<std::size_t>(1, frames.size() / kOneIn)));
  std::sort(out.begin(), out.end(), [](const Gap& a, const Gap& b) { return a.frame < b.frame; });
  return out;
}

}  // namespace burstsieve::pipeline
