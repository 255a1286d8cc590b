// Exposure of white plumage. A clipped frame does not say by how much it is over; the frames that hold do say
// how exposure scatters. So the true headroom is taken for normally distributed, seen as 0 where it is less
// (censored_normal): its mean and scatter say how far over the clipped ones lie and what dialling would save.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "debrief_parts.h"

namespace burstsieve::report {
namespace {

constexpr std::size_t kFramesForExposure = 20, kBurstsForExposure = 3;
constexpr std::size_t kHolding = 5;      // frames below the clip that the scatter needs
constexpr double kWorthDialling = .1;    // share that is surely over
constexpr double kNineInTen = 1.281552;  // normal quantile of .9
constexpr double kMargin = 1.0 / 3;      // left above nine frames in ten when dialling up
constexpr double kMostDialled = 3;       // EV: more is another scene

struct Exposure {
  Share over;
  std::vector<double> holding;  // headroom of the others, EV
  bool enough = false;
  bool sensor =
      false;  // from the sensor's values; else as rendered, and then `holding` are no stops of the sensor
};

// Of the sensor's frames alone, or of the renderings alone.
Exposure exposure_of(const CostList& frames, bool sensor) {
  Exposure out;
  out.sensor = sensor;
  std::map<int, BurstPart> bursts;
  for (const FrameCost* f : frames) {
    if (!f->headroom_ev || f->from_sensor != sensor) continue;
    const bool over = !(*f->headroom_ev > 0);
    bursts[f->burst].asked += 1;
    bursts[f->burst].lost += over;
    ++out.over.asked;
    out.over.lost += over;
    if (!over) out.holding.push_back(*f->headroom_ev);
  }
  GroupParts parts;
  for (const auto& [number, part] : bursts) parts.push_back(part);
  out.over.interval = burst_interval(parts, burst_likeness({parts}));
  out.enough = out.over.asked >= kFramesForExposure && parts.size() >= kBurstsForExposure;
  return out;
}

double thirds_up(double ev) {
  return std::min(kMostDialled, std::max(1.0, std::ceil(3 * ev - .25)) / 3);
}

Advice dial_down(const Exposure& e, const std::string& when) {
  Advice out;
  out.cost = Cost::whites;
  out.worse = e.over;
  if (!e.sensor) {
    out.exposure_ev = -1.0 / 3;
    out.text = fmt::format(
        "Whites over, as the camera rendered them, in {}{}: dial down at least 1/3 EV. By how much they are "
        "over "
        "only a raw file tells.",
        share_text(e.over), when);
    return out;
  }
  const CensoredNormal n =
      e.holding.size() >= kHolding ? censored_normal(e.holding, e.over.lost) : CensoredNormal{};
  if (!n.known) {
    out.exposure_ev = -1.0 / 3;
    out.text = fmt::format(
        "Whites over in {}{}: dial down at least 1/3 EV; by how much they are over can't be told, hardly a "
        "frame "
        "holds.",
        share_text(e.over), when);
    return out;
  }
  // Median of what lies below 0, and what would bring nine in ten above it.
  const double by = -(n.mean + n.sd * normal_quantile(normal_share_below(-n.mean / n.sd) / 2));
  const double half = thirds_up(by), most = thirds_up(kNineInTen * n.sd - n.mean);
  out.exposure_ev = -half;
  out.text = fmt::format("Whites over by {:.1f} EV in {}{}: dial down {} EV, which holds about half of them",
                         by, share_text(e.over), when, thirds_text(half));
  if (most > half + .1) out.text += fmt::format("; {} EV hold nine frames in ten", thirds_text(most));
  out.text += ".";
  return out;
}

// Only from the sensor's values: a rendering says little of what the sensor had left.
std::optional<Advice> dial_up(const Exposure& e, const std::string& when) {
  if (!e.sensor) return std::nullopt;
  std::vector<double> all = e.holding;
  all.insert(all.end(), e.over.lost, 0);
  const auto tenth = static_cast<std::ptrdiff_t>(all.size() / 10);
  std::nth_element(all.begin(), all.begin() + tenth, all.end());
  const double headroom = all[static_cast<std::size_t>(tenth)];
  const double up = std::floor(3 * (headroom - kMargin) + .05) / 3;
  if (up < .6) return std::nullopt;  // a third more is not worth the risk
  Advice out;
  out.cost = Cost::whites;
  out.worse = e.over;
  out.exposure_ev = std::min(up, kMostDialled);
  out.text = fmt::format(
      "Whites had {:.1f} EV to spare in nine frames in ten{} ({} of {} over): give {} EV more by time or "
      "aperture "
      "where motion and depth allow; that lowers the noise, a higher ISO would not.",
      headroom, when, e.over.lost, e.over.asked, thirds_text(*out.exposure_ev));
  return out;
}

}  // namespace

std::optional<Advice> exposure_advice(const CostList& frames, const std::string& when) {
  // A shoot can hold both: mosaics are read of the frames that may stay.
  Exposure e = exposure_of(frames, true);
  if (!e.enough) e = exposure_of(frames, false);
  if (!e.enough) return std::nullopt;
  if (e.over.interval.low > kWorthDialling) return dial_down(e, when);
  return dial_up(e, when);
}

}  // namespace burstsieve::report
