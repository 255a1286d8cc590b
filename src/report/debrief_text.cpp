#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "debrief_parts.h"
#include "light_json.h"
#include "words.h"

namespace burstsieve::report {
namespace {

using DebriefJson = nlohmann::ordered_json;

// "43 % (31-56)" of a table's cell; "-" where the cause could not be looked for.
std::string cell_text(const Share& s) {
  if (!s.asked) return "-";
  return fmt::format("{:.0f} % ({:.0f}-{:.0f})", 100 * s.value(), 100 * s.interval.low,
                     100 * s.interval.high);
}

std::string causes_table(const Debrief& d) {
  std::string out =
      fmt::format("{:<26}{:>8}{:>8}{:>8}   95 % interval\n", "What cost frames", "lost", "of", "share");
  for (std::size_t c = 0; c < kCosts; ++c) {
    const Share& s = d.all[c];
    if (!s.asked) {
      out += fmt::format("  {:<24}{:>8}{:>8}{:>8}   not looked for in any frame\n",
                         name_of(static_cast<Cost>(c)), "-", "-", "-");
      continue;
    }
    out += fmt::format("  {:<24}{:>8}{:>8}{:>8}   {:.0f} to {:.0f} %\n", name_of(static_cast<Cost>(c)),
                       s.lost, s.asked, fmt::format("{:.0f} %", 100 * s.value()), 100 * s.interval.low,
                       100 * s.interval.high);
  }
  return out;
}

std::string setting_table(const SettingBins& in) {
  if (in.bins.empty()) return fmt::format("\nBy {}: no file states it\n", name_of(in.setting));
  const std::vector<Cost> causes = shown_with(in.setting);
  std::string out =
      fmt::format("\n{:<24}{:>8}{:>8}", fmt::format("By {}", name_of(in.setting)), "frames", "bursts");
  for (const Cost c : causes) out += fmt::format("{:>26}", name_of(c));
  out += "\n";
  for (const DebriefBin& b : in.bins) {
    out += fmt::format("  {:<22}{:>8}{:>8}", b.label, b.frames, b.bursts);
    for (const Cost c : causes)
      out += fmt::format("{:>26}", cell_text(b.shares[static_cast<std::size_t>(c)]));
    out += "\n";
  }
  if (in.unknown) out += fmt::format("  {:<22}{:>8}\n", "not stated", in.unknown);
  return out;
}

double six_digits(double v) {
  return std::isfinite(v) ? std::strtod(fmt::format("{:.6g}", v).c_str(), nullptr) : 0;
}

DebriefJson share_json(const Share& s) {
  return {{"lost", s.lost},
          {"asked", s.asked},
          {"share", six_digits(s.value())},
          {"low", six_digits(s.interval.low)},
          {"high", six_digits(s.interval.high)}};
}

DebriefJson shares_json(const Shares& all) {
  DebriefJson out = DebriefJson::object();
  for (std::size_t c = 0; c < kCosts; ++c)
    if (all[c].asked) out[code_of(static_cast<Cost>(c))] = share_json(all[c]);
  return out;
}

DebriefJson advice_json(const Advice& a) {
  DebriefJson out{{"text", one_line(a.text)}, {"cause", code_of(a.cost)}};
  if (a.setting) out["setting"] = code_of(*a.setting);
  out["worse"] = share_json(a.worse);
  if (a.better.asked) out["better"] = share_json(a.better);
  if (a.exposure_ev) out["dial_ev"] = std::round(*a.exposure_ev * 100) / 100;
  return out;
}

}  // namespace

std::vector<Cost> shown_with(Setting setting) {
  switch (setting) {
    case Setting::shutter:
      return {Cost::subject_motion, Cost::camera_shake, Cost::any_motion};
    case Setting::focal:
      return {Cost::missed_focus, Cost::any_motion, Cost::cut};
    case Setting::aperture:
      return {Cost::missed_focus, Cost::soft};
    case Setting::hour:
      return {Cost::whites, Cost::soft, Cost::anything};
    case Setting::iso:
      break;
  }
  return {Cost::any_motion, Cost::soft, Cost::anything};
}

std::string headline(const Debrief& d) {
  std::string out =
      fmt::format("{} in {}", counted(d.frames, "frame", "frames"), counted(d.bursts, "burst", "bursts"));
  if (d.from.empty()) return out;
  const bool same_day = d.from.substr(0, 10) == d.to.substr(0, 10);
  return out +
         fmt::format(", {}{}", d.from, d.from == d.to ? "" : " to " + (same_day ? d.to.substr(11) : d.to));
}

std::string debrief_text(const Debrief& d) {
  std::string out = "Debrief  " + headline(d) + "\n";
  out += fmt::format("Verdicts {} keep, {} undecided, {} reject", d.keep, d.undecided, d.reject);
  if (d.measured < d.frames) out += fmt::format("; {} could not be measured", d.frames - d.measured);
  out += "\n\nAdvice\n";
  if (d.advice.empty()) out += std::string("  ") + kNoAdvice + "\n";
  for (const Advice& a : d.advice) out += "  - " + one_line(a.text) + "\n";
  out += "\n" + causes_table(d);
  for (const SettingBins& s : d.settings) out += setting_table(s);
  if (!d.light.empty()) out += "\nLight\n";
  for (const LightDrift& l : d.light) out += "  " + drift_text(l) + "\n";
  return out;
}

std::string debrief_json(const Debrief& d) {
  DebriefJson out{{"type", "debrief"},        {"version", kVersion},    {"frames", d.frames},
                  {"bursts", d.bursts},       {"measured", d.measured}, {"keep", d.keep},
                  {"undecided", d.undecided}, {"reject", d.reject}};
  if (!d.from.empty()) {
    out["from"] = d.from;
    out["to"] = d.to;
  }
  out["causes"] = shares_json(d.all);
  out["settings"] = DebriefJson::object();
  for (const SettingBins& s : d.settings) {
    DebriefJson bins = DebriefJson::array();
    for (const DebriefBin& b : s.bins)
      bins.push_back({{"label", b.label},
                      {"from", six_digits(b.from)},
                      {"to", six_digits(b.to)},
                      {"frames", b.frames},
                      {"bursts", b.bursts},
                      {"causes", shares_json(b.shares)}});
    out["settings"][code_of(s.setting)] = {{"bins", std::move(bins)}, {"not_stated", s.unknown}};
  }
  out["headroom_ev"] = DebriefJson::array();
  for (const double v : d.headroom_ev) out["headroom_ev"].push_back(std::round(v * 100) / 100);
  out["headroom_from_sensor"] = d.headroom_from_sensor;
  out["advice"] = DebriefJson::array();
  for (const Advice& a : d.advice) out["advice"].push_back(advice_json(a));
  out["light"] = drifts_json(d.light);
  return out.dump() + "\n";
}

}  // namespace burstsieve::report
