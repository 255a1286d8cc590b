#include "burstsieve/report/debrief.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <set>

#include "debrief_parts.h"

namespace burstsieve::report {
namespace {

constexpr double kStopAboutMode = 1.5;  // thirds of a stop to either side of the middle of a whole stop

// The value most used, the first of several in order.
double most_used(const std::vector<double>& values) {
  std::map<double, int> count;
  for (const double v : values) ++count[v];
  return std::max_element(count.begin(), count.end(),
                          [](const auto& a, const auto& b) { return a.second < b.second; })
      ->first;
}

// Which bin a value falls in; ascending in the order that SettingBins promises.
int bin_of(Setting setting, double value, double middle) {
  const double octaves = std::log2(value / middle);
  const auto stops = [](double s) { return static_cast<int>(std::floor((3 * s + kStopAboutMode) / 3)); };
  switch (setting) {
    case Setting::shutter:
      return -stops(octaves);
    case Setting::aperture:
      return stops(2 * octaves);
    case Setting::iso:
      return stops(octaves);
    case Setting::focal:
      return static_cast<int>(std::lround(2 * octaves));
    case Setting::hour:
      break;
  }
  return static_cast<int>(value);
}

std::string bin_label(Setting setting, double from, double to) {
  if (setting == Setting::hour) {
    const int hour = static_cast<int>(from);
    return fmt::format("{:02}:00 to {:02}:59", hour, hour);
  }
  const bool slow_first = setting == Setting::shutter;
  const std::string a = setting_text(setting, slow_first ? to : from),
                    b = setting_text(setting, slow_first ? from : to);
  if (a == b) return a;
  if (setting == Setting::iso) return a + " to " + b.substr(4);
  // "560 to 700 mm" rather than "560 mm to 700 mm".
  const auto unit = a.rfind(' ');
  const bool shared = unit != std::string::npos && b.ends_with(a.substr(unit));
  return (shared ? a.substr(0, unit) : a) + " to " + b;
}

SettingBins bins_of(Setting setting, const CostList& measured) {
  SettingBins out{setting, {}, 0};
  std::vector<double> values;
  for (const FrameCost* f : measured)
    if (const auto v = value_of(*f, setting)) values.push_back(*v);
  out.unknown = measured.size() - values.size();
  if (values.empty()) return out;
  const double middle = most_used(values);
  std::map<int, CostList> groups;
  for (const FrameCost* f : measured)
    if (const auto v = value_of(*f, setting)) groups[bin_of(setting, *v, middle)].push_back(f);
  std::vector<CostList> lists;
  for (auto& [key, list] : groups) lists.push_back(std::move(list));
  const auto shares = shares_of(lists);
  for (std::size_t i = 0; i < lists.size(); ++i) {
    DebriefBin bin;
    std::set<int> bursts;
    bin.from = bin.to = *value_of(*lists[i].front(), setting);
    for (const FrameCost* f : lists[i]) {
      bin.from = std::min(bin.from, *value_of(*f, setting));
      bin.to = std::max(bin.to, *value_of(*f, setting));
      bursts.insert(f->burst);
    }
    bin.label = bin_label(setting, bin.from, bin.to);
    bin.frames = lists[i].size();
    bin.bursts = bursts.size();
    bin.shares = shares[i];
    out.bins.push_back(std::move(bin));
  }
  return out;
}

std::string minute_text(std::int64_t local_ms) {
  const auto seconds = static_cast<std::time_t>((local_ms - (((local_ms % 1000) + 1000) % 1000)) / 1000);
  std::tm parts{};
  char text[32];
  if (!gmtime_r(&seconds, &parts) || std::strftime(text, sizeof text, "%Y-%m-%d %H:%M", &parts) == 0)
    return "";
  return text;
}

}  // namespace

const char* name_of(Cost cost) {
  constexpr std::array<const char*, kCosts> names{"missed focus",
                                                  "softness",
                                                  "subject motion",
                                                  "camera shake",
                                                  "motion of bird or camera",
                                                  "clipped whites",
                                                  "a cut subject",
                                                  "a hidden head",
                                                  "motion blur of any kind",
                                                  "anything"};
  return names[static_cast<std::size_t>(cost)];
}

const char* code_of(Cost cost) {
  constexpr std::array<const char*, kCosts> codes{
      "missed_focus", "soft", "subject_motion", "camera_shake", "other_motion",
      "whites",       "cut",  "head_hidden",    "any_motion",   "anything"};
  return codes[static_cast<std::size_t>(cost)];
}

const char* name_of(Setting setting) {
  constexpr std::array<const char*, kSettings> names{"shutter speed", "focal length", "aperture", "ISO",
                                                     "time of day"};
  return names[static_cast<std::size_t>(setting)];
}

const char* code_of(Setting setting) {
  constexpr std::array<const char*, kSettings> codes{"shutter_s", "focal_mm", "f_number", "iso", "hour"};
  return codes[static_cast<std::size_t>(setting)];
}

std::optional<double> value_of(const FrameCost& f, Setting setting) {
  return f.setting[static_cast<std::size_t>(setting)];
}

GroupParts parts_of(const CostList& frames, Cost cost) {
  const auto c = static_cast<std::size_t>(cost);
  std::map<int, BurstPart> bursts;
  for (const FrameCost* f : frames) {
    if (!f->asked[c]) continue;
    bursts[f->burst].asked += 1;
    bursts[f->burst].lost += f->lost[c];
  }
  GroupParts out;
  for (const auto& [number, part] : bursts) out.push_back(part);
  return out;
}

std::vector<Shares> shares_of(const std::vector<CostList>& groups) {
  std::vector<Shares> out(groups.size());
  for (std::size_t c = 0; c < kCosts; ++c) {
    std::vector<GroupParts> parts;
    for (const CostList& g : groups) parts.push_back(parts_of(g, static_cast<Cost>(c)));
    const double likeness = burst_likeness(parts);
    for (std::size_t g = 0; g < groups.size(); ++g) {
      for (const BurstPart& b : parts[g]) {
        out[g][c].asked += static_cast<std::size_t>(b.asked);
        out[g][c].lost += static_cast<std::size_t>(b.lost);
      }
      out[g][c].interval = burst_interval(parts[g], likeness);
    }
  }
  return out;
}

std::string setting_text(Setting setting, double v) {
  switch (setting) {
    case Setting::shutter:
      // As cameras write it: 1/4 s, but .4 s (nominal values of the trade, from memory).
      return v < .3 ? fmt::format("1/{:.0f} s", 1 / v) : fmt::format("{:g} s", std::round(v * 10) / 10);
    case Setting::focal:
      return fmt::format("{:.0f} mm", v);
    case Setting::aperture:
      return fmt::format("f/{:g}", std::round(v * 10) / 10);
    case Setting::iso:
      return fmt::format("ISO {:.0f}", v);
    case Setting::hour:
      break;
  }
  const int minutes = static_cast<int>(v * 60);
  return fmt::format("{:02}:{:02}", minutes / 60, minutes % 60);
}

void DebriefMaker::add(const BurstOutcome& burst) {
  const int number = static_cast<int>(++bursts_);
  for (const FrameOutcome& f : burst.frames) {
    frames_.push_back(frame_cost(f, number));
    const Capture& c = f.frame.capture;
    if (!c.time_ms) continue;
    const std::int64_t local = *c.time_ms + std::int64_t{c.utc_offset_minutes.value_or(0)} * 60'000;
    first_ms_ = std::min(first_ms_.value_or(local), local);
    last_ms_ = std::max(last_ms_.value_or(local), local);
  }
  if (auto light = burst_light(burst)) light_.push_back(std::move(*light));
}

Debrief DebriefMaker::finish() const {
  Debrief out;
  out.frames = frames_.size();
  out.bursts = bursts_;
  if (first_ms_) {
    out.from = minute_text(*first_ms_);
    out.to = minute_text(*last_ms_);
  }
  CostList measured;
  std::vector<double> sensor, rendered;
  for (const FrameCost& f : frames_) {
    out.keep += f.verdict == Verdict::keep;
    out.undecided += f.verdict == Verdict::undecided;
    out.reject += f.verdict == Verdict::reject;
    if (!f.measured) continue;
    measured.push_back(&f);
    if (f.headroom_ev) (f.from_sensor ? sensor : rendered).push_back(*f.headroom_ev);
  }
  out.measured = measured.size();
  out.headroom_from_sensor = sensor.size() >= 20 || rendered.empty();
  out.headroom_ev = std::move(out.headroom_from_sensor ? sensor : rendered);
  out.all = shares_of({measured}).front();
  for (std::size_t s = 0; s < kSettings; ++s)
    out.settings.push_back(bins_of(static_cast<Setting>(s), measured));
  out.light = light_drift(light_);
  out.advice = advice_from(measured, out);
  return out;
}

Debrief debrief(const std::vector<BurstOutcome>& bursts) {
  DebriefMaker maker;
  for (const BurstOutcome& b : bursts) maker.add(b);
  return maker.finish();
}

}  // namespace burstsieve::report
