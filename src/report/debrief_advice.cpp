#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <iterator>
#include <set>

#include "debrief_parts.h"
#include "words.h"

namespace burstsieve::report {
namespace {

constexpr std::size_t kFramesASide = 20;
constexpr std::size_t kBurstsASide = 3;

// The frames on both sides of a boundary between two bins, in the bins' order.
struct Split {
  CostList first, second;
  double first_edge = 0, second_edge = 0;            // the values next to the boundary
  bool first_single = false, second_single = false;  // one value only on that side
};

Split split_at(const CostList& frames, const SettingBins& in, std::size_t boundary) {
  Split out;
  const DebriefBin &before = in.bins[boundary - 1], &after = in.bins[boundary];
  const bool falling = in.setting == Setting::shutter;  // slow first
  out.first_edge = falling ? before.from : before.to;
  out.second_edge = falling ? after.to : after.from;
  std::set<double> values[2];
  for (const FrameCost* f : frames) {
    const auto v = value_of(*f, in.setting);
    if (!v) continue;
    const bool is_first = falling ? *v >= out.first_edge : *v <= out.first_edge;
    (is_first ? out.first : out.second).push_back(f);
    values[is_first ? 0 : 1].insert(*v);
  }
  out.first_single = values[0].size() == 1;
  out.second_single = values[1].size() == 1;
  return out;
}

std::string side_text(Setting setting, const Split& s, bool first) {
  const std::string edge = setting_text(setting, first ? s.first_edge : s.second_edge);
  const bool single = first ? s.first_single : s.second_single;
  switch (setting) {
    case Setting::hour:
      return fmt::format("{} {:02}:00", first ? "before" : "after", static_cast<int>(s.second_edge));
    case Setting::focal:
      return single ? "at " + edge : first ? "up to " + edge : "from " + edge + " on";
    case Setting::shutter:
      return "at " + edge + (single ? "" : first ? " and slower" : " and faster");
    case Setting::aperture:
      return "at " + edge + (single ? "" : first ? " and wider" : " and narrower");
    case Setting::iso:
      break;
  }
  return "at " + edge + (single ? "" : first ? " and lower" : " and higher");
}

bool enough(const Share& share, const GroupParts& parts) {
  return share.asked >= kFramesASide && parts.size() >= kBurstsASide;
}

struct Told {
  Split split;
  Share first, second;
  bool first_is_worse = false;
  double gap = 0;  // between the intervals
};

// The boundary at which both sides differ most surely; nothing where none is beyond doubt.
std::optional<Told> surest(const CostList& frames, const SettingBins& bins, Cost cost) {
  std::optional<Told> out;
  const auto c = static_cast<std::size_t>(cost);
  for (std::size_t boundary = 1; boundary < bins.bins.size(); ++boundary) {
    Told one{split_at(frames, bins, boundary), {}, {}, false, 0};
    const auto shares = shares_of({one.split.first, one.split.second});
    one.first = shares[0][c];
    one.second = shares[1][c];
    if (!enough(one.first, parts_of(one.split.first, cost)) ||
        !enough(one.second, parts_of(one.split.second, cost)))
      continue;
    one.first_is_worse = one.first.value() > one.second.value();
    const Share &worse = one.first_is_worse ? one.first : one.second,
                &better = one.first_is_worse ? one.second : one.first;
    one.gap = worse.interval.low - better.interval.high;
    if (one.gap > 0 && (!out || one.gap > out->gap)) out = std::move(one);
  }
  return out;
}

double median_of(const CostList& frames, Setting setting) {
  std::vector<double> values;
  for (const FrameCost* f : frames)
    if (const auto v = value_of(*f, setting)) values.push_back(*v);
  if (values.empty()) return 0;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2),
                   values.end());
  return values[values.size() / 2];
}

// The step of ISO dials next to `iso`: ten to a factor of ten (Renard's R10 as ISO 12232 rounds it; from
// memory).
double nominal_iso(double iso) {
  constexpr std::array<double, 11> steps{1, 1.25, 1.6, 2, 2.5, 3.2, 4, 5, 6.4, 8, 10};
  const double decade = std::pow(10, std::floor(std::log10(iso)));
  double best = steps[0];
  for (const double s : steps)
    if (std::abs(std::log(iso / decade / s)) < std::abs(std::log(iso / decade / best))) best = s;
  return best * decade;
}

// What the faster shutter takes, from the middle of the slow frames.
std::string price(const Told& told) {
  const double slow = median_of(told.split.first, Setting::shutter);
  const double stops = std::max(1.0, std::round(3 * std::log2(slow / told.split.second_edge))) / 3;
  std::string out = fmt::format("{} from where most of the slow frames were", stops_text(stops));
  if (const double iso = median_of(told.split.first, Setting::iso); iso > 0)
    out += fmt::format(" (ISO {:.0f} becomes {:.0f} at the same aperture)", iso,
                       nominal_iso(iso * std::exp2(stops)));
  return out;
}

// What to do about it: the sentence after the numbers. `edge`: the value where the better side begins.
std::string remedy(Setting setting, Cost cost, const Told& told) {
  const std::string edge =
      setting_text(setting, told.first_is_worse ? told.split.second_edge : told.split.first_edge);
  if (setting == Setting::shutter) {
    const std::string faster = edge + (told.split.second_single ? "" : " or faster");
    if (cost == Cost::camera_shake) return "use " + faster + ", or rest the lens: " + price(told);
    return "use " + faster + " for birds that move like these: " + price(told);
  }
  if (setting == Setting::focal) {
    if (cost == Cost::cut)
      return "leave more room around the bird; " + edge +
             " shows how much. No frame is worth pressing it: keep your distance";
    if (cost == Cost::missed_focus)
      return "the longer lens leaves less depth; stop down a little, or zoom out rather than go nearer";
    return "a faster shutter or a rest for the long end";
  }
  if (setting == Setting::aperture) return "stop down to " + edge + " where the light allows";
  return "warm air over water, mud or sand softens distance (common practice, no source): a shorter "
         "distance helps little once it shimmers, another hour does. Don't press birds for it";
}

// Whether the side found worse is the one that the setting makes worse.
bool plausible(Setting setting, const Told& told) {
  if (setting == Setting::focal) return !told.first_is_worse;
  if (setting == Setting::hour) return true;
  return told.first_is_worse;  // slow, wide
}

Advice advice_of(Setting setting, Cost cost, const Told& told, const std::string& within) {
  const bool first = told.first_is_worse;
  Advice out;
  out.setting = setting;
  out.cost = cost;
  out.worse = first ? told.first : told.second;
  out.better = first ? told.second : told.first;
  out.text = fmt::format("{}{}, {} were lost to {}, {} {}: {}.", side_text(setting, told.split, first),
                         within, share_text(out.worse), name_of(cost), side_text(setting, told.split, !first),
                         share_text(out.better), remedy(setting, cost, told));
  out.text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(out.text[0])));
  return out;
}

CostList within_bin(const CostList& frames, Setting setting, const DebriefBin& bin) {
  CostList out;
  for (const FrameCost* f : frames)
    if (const auto v = value_of(*f, setting); v && *v >= bin.from && *v <= bin.to) out.push_back(f);
  return out;
}

// Speeds are compared at one focal length where that suffices: the same speed blurs a longer lens more.
std::vector<Advice> shutter_advice(const CostList& frames, const Debrief& d, Cost cost) {
  const SettingBins& speeds = d.settings[static_cast<std::size_t>(Setting::shutter)];
  const SettingBins& focals = d.settings[static_cast<std::size_t>(Setting::focal)];
  std::vector<Advice> out;
  for (const DebriefBin& focal : focals.bins) {
    const auto told = surest(within_bin(frames, Setting::focal, focal), speeds, cost);
    if (told && plausible(Setting::shutter, *told))
      out.push_back(advice_of(Setting::shutter, cost, *told, " with " + focal.label));
  }
  if (!out.empty()) return out;
  const auto told = surest(frames, speeds, cost);
  if (told && plausible(Setting::shutter, *told)) out.push_back(advice_of(Setting::shutter, cost, *told, ""));
  return out;
}

std::vector<Advice> setting_advice(const CostList& frames, const Debrief& d, Setting setting, Cost cost) {
  if (setting == Setting::shutter) return shutter_advice(frames, d, cost);
  const auto told = surest(frames, d.settings[static_cast<std::size_t>(setting)], cost);
  if (!told || !plausible(setting, *told)) return {};
  return {advice_of(setting, cost, *told, "")};
}

void add_exposure(const CostList& frames, const Debrief& d, std::vector<Advice>& out) {
  const SettingBins& hours = d.settings[static_cast<std::size_t>(Setting::hour)];
  const auto told = surest(frames, hours, Cost::whites);
  std::optional<Advice> one;
  if (told) {
    const bool first = told->first_is_worse;
    const std::string when = " " + side_text(Setting::hour, told->split, first);
    one = exposure_advice(first ? told->split.first : told->split.second, when);
    if (one) {
      one->setting = Setting::hour;
      one->better = first ? told->second : told->first;
    }
  }
  if (!one) one = exposure_advice(frames, "");
  if (one) out.push_back(std::move(*one));
}

// Who moved is told only where it is most of what was lost to motion; else motion as a whole says more.
void leave_one_word_for_motion(std::vector<Advice>& all) {
  std::size_t whole = 0, named = 0;
  for (const Advice& a : all) {
    auto& most = a.cost == Cost::any_motion ? whole : named;
    most = std::max(most, a.worse.lost);
  }
  const bool name_it = 3 * named >= 2 * whole;
  std::erase_if(all, [&](const Advice& a) { return (a.cost == Cost::any_motion) == name_it; });
}

// No setting shows a head; but how often it cost frames is worth a line.
void add_heads(const Debrief& d, std::vector<Advice>& out) {
  const Share& heads = d.all[static_cast<std::size_t>(Cost::head_hidden)];
  if (heads.asked < kFramesASide || heads.interval.low < .1) return;
  Advice a;
  a.cost = Cost::head_hidden;
  a.worse = heads;
  a.text = fmt::format("The head was hidden in {}: no setting helps; begin the burst when it comes up.",
                       share_text(heads));
  out.push_back(std::move(a));
}

}  // namespace

std::string percent_text(double share) {
  const double percent = 100 * share;
  if (percent > 0 && percent < .5) return "less than 1 %";
  if (percent < 100 && percent > 99.5) return "more than 99 %";
  return fmt::format("{:.0f} %", percent);
}

std::string share_text(const Share& s) {
  return fmt::format("{} ({} of {}; 95 % interval {:.0f} to {:.0f} %)", percent_text(s.value()), s.lost,
                     counted(s.asked, "frame", "frames"), 100 * s.interval.low, 100 * s.interval.high);
}

std::string thirds_text(double ev) {
  const int thirds = static_cast<int>(std::lround(3 * std::abs(ev)));
  const std::string part = thirds % 3 == 0 ? "" : fmt::format("{}/3", thirds % 3);
  if (thirds < 3) return part.empty() ? "0" : part;
  return std::to_string(thirds / 3) + (part.empty() ? "" : " " + part);
}

std::string stops_text(double stops) {
  return thirds_text(stops) + (stops > 1.1 ? " stops" : stops > .9 ? " stop" : " of a stop");
}

std::vector<Cost> causes_by(Setting setting) {
  switch (setting) {
    case Setting::shutter:
      return {Cost::subject_motion, Cost::camera_shake, Cost::any_motion};
    case Setting::focal:
      return {Cost::missed_focus, Cost::camera_shake, Cost::cut};
    case Setting::aperture:
      return {Cost::missed_focus, Cost::soft};
    case Setting::hour:
      return {Cost::soft, Cost::whites};
    case Setting::iso:
      break;
  }
  return {};
}

std::vector<Advice> advice_from(const CostList& measured, const Debrief& d) {
  std::vector<Advice> out;
  for (std::size_t s = 0; s < kSettings; ++s) {
    const auto setting = static_cast<Setting>(s);
    std::vector<Advice> of_it;
    for (const Cost cost : causes_by(setting)) {
      if (cost == Cost::whites) continue;  // exposure has its own
      for (Advice& a : setting_advice(measured, d, setting, cost)) of_it.push_back(std::move(a));
    }
    if (setting == Setting::shutter) leave_one_word_for_motion(of_it);
    std::move(of_it.begin(), of_it.end(), std::back_inserter(out));
  }
  add_exposure(measured, d, out);
  add_heads(d, out);
  std::stable_sort(out.begin(), out.end(),
                   [](const Advice& a, const Advice& b) { return a.worse.lost > b.worse.lost; });
  return out;
}

}  // namespace burstsieve::report
