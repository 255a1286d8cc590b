#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <tuple>

#include "burstsieve/base/text.h"
#include "debrief_parts.h"
#include "sheet_parts.h"
#include "words.h"

namespace burstsieve::report {
namespace {

constexpr double kSure = .5;

std::size_t in_pose(const BurstOutcome& burst, int pose) {
  return static_cast<std::size_t>(
      std::count_if(burst.frames.begin(), burst.frames.end(),
                    [&](const FrameOutcome& f) { return f.verdict.pose == pose; }));
}

}  // namespace

SheetBurst sheet_burst(const BurstOutcome& burst, const SheetOptions& options) {
  SheetBurst out;
  out.burst = &burst;
  for (const FrameOutcome& f : burst.frames) {
    if (!options.shows(f.verdict.verdict)) continue;
    SheetCard card;
    card.frame = &f;
    card.place = crop_place(f);
    // Thumbnails have a longest side of 320 px (FrameFacts::thumbnail).
    if (!f.facts.thumbnail.empty() && f.facts.pixel_width > 0 && f.facts.pixel_height > 0) {
      const double longest = std::max(f.facts.pixel_width, f.facts.pixel_height),
                   scale = std::min(1.0, 320 / longest);
      card.whole_width = std::max(1, static_cast<int>(std::lround(scale * f.facts.pixel_width)));
      card.whole_height = std::max(1, static_cast<int>(std::lround(scale * f.facts.pixel_height)));
    }
    out.cards.push_back(std::move(card));
  }
  const auto rank = [](const SheetCard& c) {
    const FrameVerdict& v = c.frame->verdict;
    return std::tuple(v.pose == 0, v.pose, v.place == 0, v.place);
  };
  std::stable_sort(out.cards.begin(), out.cards.end(),
                   [&](const SheetCard& a, const SheetCard& b) { return rank(a) < rank(b); });
  return out;
}

std::string name_on_sheet(const FrameOutcome& o) {
  std::string name = one_line(leaf_of(o.frame.main().path));
  if (o.frame.raw && o.frame.jpeg) name += " with JPEG";
  return name;
}

std::string place_on_sheet(const FrameOutcome& o, const BurstOutcome& burst) {
  const FrameVerdict& v = o.verdict;
  if (v.pose == 0) return "no pose to compare by";
  const std::size_t size = in_pose(burst, v.pose);
  if (size == 1) return fmt::format("pose {}: the only frame", v.pose);
  if (v.place == 1) return fmt::format("pose {}: best of {}", v.pose, size);
  if (v.place == 0) return fmt::format("pose {}: not ranked", v.pose);
  return fmt::format("pose {}: place {} of {}", v.pose, v.place, size);
}

std::string settings_on_sheet(const Capture& c) {
  std::string out;
  const auto add = [&](Setting setting, const std::optional<double>& v) {
    if (v && std::isfinite(*v) && *v > 0) out += (out.empty() ? "" : ", ") + setting_text(setting, *v);
  };
  add(Setting::shutter, c.exposure_s);
  add(Setting::aperture, c.f_number);
  add(Setting::iso, c.iso);
  add(Setting::focal, c.focal_mm);
  return out;
}

std::string crop_on_sheet(const SheetCard& card) {
  const Capture& c = card.frame->frame.capture;
  const int full = std::max(c.width, c.height),
            have = std::max(card.frame->facts.pixel_width, card.frame->facts.pixel_height);
  // A camera's own preview may be a few pixels short of the frame.
  if (full > 0 && have > 0 && have < .9 * full)
    return fmt::format("{} at 100 % of a preview, {:.0f} % of full size", card.place.what,
                       100.0 * have / full);
  return card.place.what + " at 100 %";
}

std::string time_on_sheet(const Capture& c) {
  if (!c.time_ms) return "time unknown";
  const std::int64_t local = *c.time_ms + std::int64_t{c.utc_offset_minutes.value_or(0)} * 60'000;
  const auto seconds = static_cast<std::time_t>((local - ((local % 1000) + 1000) % 1000) / 1000);
  std::tm parts{};
  char text[32];
  if (!gmtime_r(&seconds, &parts) || std::strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S", &parts) == 0)
    return "time unknown";
  return text;
}

std::vector<std::string> reasons_on_sheet(const FrameOutcome& o) {
  std::vector<std::string> out;
  for (const Reason& r : o.verdict.reasons)
    out.push_back(one_line(r.text) +
                  (r.confidence < kSure ? fmt::format(" (doubtful: confidence {:.2f})", r.confidence) : ""));
  return out;
}

std::string human_on_sheet(const FrameOutcome& o) {
  for (const SidecarLine& s : o.sidecars)
    if (s.change == "human") return "your own rating stands: " + one_line(s.human_rating);
  return "";
}

}  // namespace burstsieve::report
