#include "burstsieve/report/light.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "burstsieve/base/text.h"

namespace burstsieve::report {
namespace {

// Mired. What frames of one burst have in common: the same bird, lit by more of the sun or more of the sky.
// Bursts of the sample set, of other birds under one sun, lie up to 8 apart.
constexpr double kCommon = 5;
// Standard deviation of a single frame, the least that is believed: three frames can agree by chance.
constexpr double kFrame = 2;
constexpr double kCounts = 1.5;                        // times two standard deviations
constexpr double kNeutral = 153.7, kDaylight = .0032;  // D65: mired and Duv

// Half of the weight lies below it. `values`: value and weight; not empty, weights > 0.
double weighted_median(std::vector<std::pair<double, double>> values) {
  std::sort(values.begin(), values.end());
  double all = 0, below = 0;
  for (const auto& [value, weight] : values) all += weight;
  for (std::size_t i = 0; i < values.size(); ++i) {
    below += values[i].second;
    // Exactly half: any value up to the next would do; the middle treats both sides alike.
    if (below * 2 == all && i + 1 < values.size()) return (values[i].first + values[i + 1].first) / 2;
    if (below * 2 > all) return values[i].first;
  }
  return values.back().first;
}

template <class Of>
double median_over(const std::vector<FrameLight>& frames, Of of) {
  std::vector<std::pair<double, double>> values;
  for (const FrameLight& f : frames) values.push_back({of(f), f.confidence});
  return weighted_median(std::move(values));
}

double together(const BurstLight& a, const BurstLight& b) {
  return std::hypot(a.uncertainty, b.uncertainty);
}

LightDrift drift_of(const std::string& camera, std::vector<BurstLight> bursts) {
  LightDrift out;
  out.camera = camera;
  std::vector<std::pair<double, double>> values;
  for (const BurstLight& b : bursts) values.push_back({b.mired, 1});
  out.mired = weighted_median(std::move(values));
  double most = 0;
  for (std::size_t i = 0; i < bursts.size(); ++i) {
    out.shift.push_back(bursts[i].mired - out.mired);
    if (bursts[i].mired < bursts[out.coldest].mired) out.coldest = i;
    if (bursts[i].mired > bursts[out.warmest].mired) out.warmest = i;
    if (std::abs(out.shift[i]) > kCounts * bursts[i].uncertainty) out.constant = false;
    if (i == 0) continue;
    const double moved = bursts[i].mired - bursts[i - 1].mired, doubt = together(bursts[i], bursts[i - 1]);
    if (std::abs(moved) <= kCounts * doubt || std::abs(moved) <= most) continue;
    most = std::abs(moved);
    out.step = i;
    out.step_mired = moved;
    out.step_uncertainty = doubt;
    out.constant = false;
  }
  out.bursts = std::move(bursts);
  return out;
}

std::string clock_text(const BurstLight& b) {
  if (!b.time_ms) return b.number > 0 ? fmt::format("burst {}", b.number) : "a time unknown";
  constexpr std::int64_t kDay = 86'400'000;
  const std::int64_t local = *b.time_ms + std::int64_t{b.utc_offset_minutes} * 60'000;
  const std::int64_t minutes = ((local % kDay) + kDay) % kDay / 60'000;
  return fmt::format("{:02}:{:02}", minutes / 60, minutes % 60);
}

std::string kelvin(double mired) {
  return fmt::format("{:.0f} K", std::round(1e5 / mired) * 10);
}

std::string side(double mired) {
  const double off = mired - kNeutral;
  if (std::abs(off) < 5) return "near neutral";
  return fmt::format("{:.0f} {} than neutral", std::abs(off), off > 0 ? "warmer" : "colder");
}

}  // namespace

std::optional<FrameLight> frame_light(const FrameFacts& facts) {
  const Measure* mired = find(facts.measures, "white_mired");
  const Measure* duv = find(facts.measures, "white_duv");
  if (!mired || !duv || !(mired->value > 0) || !(mired->confidence > 0)) return std::nullopt;
  return FrameLight{mired->value, duv->value, mired->confidence};
}

std::optional<BurstLight> burst_light(const std::vector<FrameLight>& frames) {
  if (frames.empty()) return std::nullopt;
  BurstLight out;
  out.frames = static_cast<int>(frames.size());
  out.mired = median_over(frames, [](const FrameLight& f) { return f.mired; });
  out.duv = median_over(frames, [](const FrameLight& f) { return f.duv; });
  const double n = static_cast<double>(frames.size());
  for (const FrameLight& f : frames) out.confidence += f.confidence / n;
  // 1.4826 times the median deviation is the standard deviation of a normal scatter, 1.2533 over the root of
  // n what a median of n has of it (both from memory).
  const double scatter =
      1.4826 * median_over(frames, [&](const FrameLight& f) { return std::abs(f.mired - out.mired); });
  const double sd = 1.2533 * std::max(scatter, kFrame) / std::sqrt(n);
  out.uncertainty = std::hypot(2 * sd, kCommon);
  return out;
}

std::optional<BurstLight> burst_light(const BurstOutcome& burst) {
  std::vector<FrameLight> frames;
  for (const FrameOutcome& f : burst.frames)
    if (const auto light = frame_light(f.facts)) frames.push_back(*light);
  auto out = burst_light(frames);
  if (!out) return out;
  const Capture& first = burst.frames.front().frame.capture;
  out->number = burst.number;
  out->camera = burst.camera;
  out->time_ms = first.time_ms;
  out->utc_offset_minutes = first.utc_offset_minutes.value_or(0);
  return out;
}

std::vector<LightDrift> light_drift(std::vector<BurstLight> bursts) {
  std::map<std::string, std::vector<BurstLight>> cameras;
  for (BurstLight& b : bursts)
    if (b.confident()) cameras[b.camera].push_back(std::move(b));
  std::vector<LightDrift> out;
  for (auto& [camera, of_it] : cameras) {
    if (of_it.size() < 2) continue;
    std::stable_sort(of_it.begin(), of_it.end(), [](const BurstLight& a, const BurstLight& b) {
      if (a.time_ms.has_value() != b.time_ms.has_value()) return a.time_ms.has_value();
      return a.time_ms && *a.time_ms < *b.time_ms;
    });
    out.push_back(drift_of(camera, std::move(of_it)));
  }
  return out;
}

std::string light_text(double mired, double duv) {
  const double tint = duv - kDaylight;
  const char* towards = std::abs(tint) < .002 ? "none" : tint > 0 ? "green" : "magenta";
  return fmt::format("{:.0f} mired ({}), {}, tint {}", mired, kelvin(mired), side(mired), towards);
}

std::string drift_text(const LightDrift& d) {
  const std::string camera = d.camera.empty() ? "" : ", " + one_line(d.camera);
  const BurstLight &cold = d.bursts[d.coldest], &warm = d.bursts[d.warmest];
  const BurstLight &from = d.coldest < d.warmest ? cold : warm, &to = d.coldest < d.warmest ? warm : cold;
  if (d.constant) {
    double doubt = 0;
    for (const BurstLight& b : d.bursts) doubt = std::max(doubt, b.uncertainty);
    return fmt::format("white plumage constant within {:.0f} mired over {} bursts: {:.0f} mired ({}, {}){}",
                       std::max(doubt, warm.mired - cold.mired), d.bursts.size(), d.mired, kelvin(d.mired),
                       side(d.mired), camera);
  }
  std::string out = fmt::format(
      "white plumage drifts over {} bursts from {:.0f} mired ({}, +-{:.0f}) at {} to {:.0f} ({}, +-{:.0f}) "
      "at {}",
      d.bursts.size(), from.mired, kelvin(from.mired), from.uncertainty, clock_text(from), to.mired,
      kelvin(to.mired), to.uncertainty, clock_text(to));
  if (d.step)
    out += fmt::format("; largest step {:+.0f} ({}) at {}", d.step_mired,
                       d.step_mired > 0 ? "warmer" : "colder", clock_text(d.bursts[*d.step]));
  return out + camera;
}

}  // namespace burstsieve::report
