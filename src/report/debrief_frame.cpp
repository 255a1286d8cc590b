#include <algorithm>
#include <cmath>

#include "burstsieve/rank/motion_kind.h"
#include "burstsieve/rank/policy.h"
#include "burstsieve/report/debrief.h"

namespace burstsieve::report {
namespace {

constexpr double kRatherTrue = .5;

void put_setting(FrameCost& to, Setting setting, const std::optional<double>& value) {
  if (value && std::isfinite(*value) && *value > 0) to.setting[static_cast<std::size_t>(setting)] = *value;
}

void put_settings(FrameCost& to, const Capture& c) {
  put_setting(to, Setting::shutter, c.exposure_s);
  put_setting(to, Setting::focal, c.focal_mm);
  put_setting(to, Setting::aperture, c.f_number);
  put_setting(to, Setting::iso, c.iso);
  if (!c.time_ms) return;
  constexpr std::int64_t kDayMs = 86'400'000;
  const std::int64_t local = *c.time_ms + std::int64_t{c.utc_offset_minutes.value_or(0)} * 60'000;
  const double hours = static_cast<double>(((local % kDayMs) + kDayMs) % kDayMs) / 3'600'000;
  to.setting[static_cast<std::size_t>(Setting::hour)] = hours;
}

void look_for(FrameCost& to, Cost cost, bool asked) {
  to.asked[static_cast<std::size_t>(cost)] = asked;
}

void lose(FrameCost& to, Cost cost) {
  to.asked[static_cast<std::size_t>(cost)] = to.lost[static_cast<std::size_t>(cost)] = true;
}

// The verdict of a frame that its photographer rejected names nothing else.
std::vector<Reason> faults_in(const FrameOutcome& o) {
  const auto& reasons = o.verdict.reasons;
  const bool yours =
      std::any_of(reasons.begin(), reasons.end(), [](const Reason& r) { return r.code == "yours"; });
  return yours ? rank::faults_of(o.facts, {}, o.frame.raw.has_value()) : reasons;
}

void lose_to_motion(FrameCost& to, const FrameFacts& facts) {
  lose(to, Cost::any_motion);
  const rank::MotionFinding found = rank::motion_kind(facts);
  if (found.kind == rank::MotionKind::camera)
    lose(to, Cost::camera_shake);
  else if (found.kind == rank::MotionKind::subject && found.background_known)
    lose(to, Cost::subject_motion);
  else
    lose(to, Cost::other_motion);
}

// A rendering's stops are no sensor's (calibration believes them at .1), but they tell what clips in it.
void put_headroom(FrameCost& to, const FrameFacts& facts) {
  std::array<double, 3> ev{};
  const std::array<const char*, 3> ids{"headroom_ev_r", "headroom_ev_g", "headroom_ev_b"};
  bool sensor = false;
  for (std::size_t c = 0; c < 3; ++c) {
    const Measure* m = find(facts.measures, ids[c]);
    if (!m) return;
    sensor = m->basis == "raw mosaic";
    if (sensor && m->confidence < kRatherTrue) return;
    ev[c] = m->value;
  }
  std::sort(ev.begin(), ev.end());
  to.headroom_ev = ev[1];
  to.from_sensor = sensor;
}

}  // namespace

FrameCost frame_cost(const FrameOutcome& o, int burst) {
  FrameCost out;
  out.burst = burst;
  out.verdict = o.verdict.verdict;
  put_settings(out, o.frame.capture);
  if (!o.facts.decoded || !o.facts.damage.empty()) return out;
  out.measured = true;
  const auto has = [&](const char* id) { return find(o.facts.measures, id) != nullptr; };
  look_for(out, Cost::missed_focus, has("blur_sigma_px"));
  look_for(out, Cost::soft, has("blur_sigma_px"));
  for (const Cost c : {Cost::subject_motion, Cost::camera_shake, Cost::other_motion, Cost::any_motion})
    look_for(out, c, has("motion_px"));
  look_for(out, Cost::whites, has("white_clipped_g"));
  look_for(out, Cost::cut, has("cut_by_edge"));
  look_for(out, Cost::anything, true);
  for (const Reason& r : faults_in(o)) {
    if (r.confidence < kRatherTrue) continue;
    if (r.code == "missed_focus") lose(out, Cost::missed_focus);
    if (r.code == "soft") lose(out, Cost::soft);
    // What one channel lost can be recovered: the policy names it, too, but with less confidence.
    if (r.code == "whites_clipped") lose(out, Cost::whites);
    if (r.code == "motion") lose_to_motion(out, o.facts);
    if (r.code == "cut") lose(out, Cost::cut);
  }
  if (!o.facts.subjects.empty()) {
    const Subject& bird = o.facts.subjects.front();
    look_for(out, Cost::head_hidden, bird.head_view != HeadView::unknown);
    if (bird.head_view == HeadView::hidden && bird.head_confidence >= kRatherTrue)
      lose(out, Cost::head_hidden);
  }
  if (std::find(out.lost.begin(), out.lost.end(), true) != out.lost.end()) lose(out, Cost::anything);
  put_headroom(out, o.facts);
  return out;
}

}  // namespace burstsieve::report
