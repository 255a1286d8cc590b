#include <algorithm>
#include <cmath>

#include "head_search.h"

namespace burstsieve::subject {
namespace {

// A head that the frame alone trusts: its place speaks for the others. Log odds of .9.
constexpr double kSpeaks = 2.2;
constexpr std::size_t kFewest = 2;

// How far a place is from where `other`'s head leads one to expect it, in head radii (of `other`): by the
// frame (the photographer pans with the bird) or by the animal's box, whichever comes nearer.
double away(const HeadEvidence& here, const HeadPlace& place, const HeadEvidence& other) {
  const Region& h = other.places.front().head;
  const auto at = [&](double dx, double dy) {
    const double x = (place.head.centre_x() - h.centre_x() - dx) / std::max(h.w, 1e-6),
                 y = (place.head.centre_y() - h.centre_y() - dy) / std::max(h.h, 1e-6);
    return 2 * std::hypot(x, y);
  };
  const double still = at(0, 0);
  const double with_box =
      at(here.box.centre_x() - other.box.centre_x(), here.box.centre_y() - other.box.centre_y());
  const double size = std::abs(std::log(std::max(place.head.w, 1e-6) / std::max(h.w, 1e-6)));
  return std::min(still, with_box) + 2 * std::max(0.0, size - .3);
}

}  // namespace

FrameInBurst in_burst(const std::vector<HeadEvidence>& all, std::size_t i) {
  FrameInBurst out;
  const HeadEvidence& here = all[i];
  if (!here.looked || here.places.empty()) return out;
  struct Speaker {
    std::size_t distance, frame;
  };
  std::vector<Speaker> speakers;
  double ease = 0;
  std::size_t looked = 0;
  for (std::size_t j = 0; j < all.size(); ++j) {
    if (j == i || !all[j].looked || all[j].places.empty()) continue;
    ++looked;
    ease += std::clamp(all[j].visible, -3.0, 4.0);
    if (all[j].visible >= kSpeaks) speakers.push_back({j > i ? j - i : i - j, j});
  }
  if (speakers.size() < kFewest) return out;
  std::stable_sort(speakers.begin(), speakers.end(),
                   [](const Speaker& a, const Speaker& b) { return a.distance < b.distance; });
  // Each place by those two of the four nearest speakers that like it best: wings up and wings down have
  // different boxes. Of two at the same distance both: backwards the burst says the same.
  std::size_t near = std::min<std::size_t>(4, speakers.size());
  while (near < speakers.size() && speakers[near].distance == speakers[near - 1].distance) ++near;
  double best = -8, first = 0;
  for (std::size_t p = 0; p < here.places.size(); ++p) {
    std::vector<double> d;
    for (std::size_t k = 0; k < near; ++k) d.push_back(away(here, here.places[p], all[speakers[k].frame]));
    std::sort(d.begin(), d.end());
    const double mean = std::min(6.0, .5 * (d[0] + d[1]));
    if (p == 0) first = mean;
    best = std::max(best, here.places[p].odds - mean);
  }
  ease /= static_cast<double>(looked);
  out.known = true;
  const double share = static_cast<double>(speakers.size()) / static_cast<double>(looked);
  out.visible = {here.visible, first, std::clamp(here.visible, -4.0, 4.0) * std::exp(-first),
                 ease,         share, best};
  out.hidden = {here.hidden, here.visible, first, ease, share, best};
  return out;
}

}  // namespace burstsieve::subject
