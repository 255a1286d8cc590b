#include "burstsieve/rank/motion_kind.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "burstsieve/base/text.h"

namespace burstsieve::rank {
namespace {

constexpr double kStreakFrom = 3.0;  // px
constexpr double kSoftFrom = 1.7;    // px of sigma; 1.6 is where a keep falls to two stars
// Edges may be wide by nature (clouds, down); the fall of the spectrum must bear them out. Of the tuning set
// of tests/measure/motion_cases.h, 3 of 360 unstreaked subjects fall on the wrong side, 16 by the edges
// alone.
constexpr double kTextureAgrees = 1.2;
// Without edges: 22 sharp textures read 0 to .9, under discs of 9 to 16 px 1.8 to 5.2 (docs/measures.md).
constexpr double kRoughSoftFrom = 1.4;
constexpr double kEdgesTrusted = .4;  // confidence of blur_sigma_px below which there were no edges
// A length is only given where a streak is more likely than none; its confidence says how well the length and
// the direction are known. Below this they are no more than a guess.
constexpr double kBelieved = .1;
constexpr double kBelievedNone = .3;  // from which the absence of a streak counts

struct Seen {
  bool known = false, streaked = false;
  double px = 0, degrees = 0, confidence = 0;
};

Seen seen(const FrameFacts& facts, const char* length, const char* direction) {
  Seen out;
  const Measure* px = find(facts.measures, length);
  if (!px) return out;
  const Measure* degrees = find(facts.measures, direction);
  out.px = px->value;
  out.degrees = degrees ? degrees->value : 0;
  out.confidence = px->confidence;
  out.streaked = px->value >= kStreakFrom && px->confidence >= kBelieved;
  out.known = out.streaked || (px->value < kStreakFrom && px->confidence >= kBelievedNone);
  return out;
}

struct Blur {
  bool known = false, soft = false;
  double px = 0, confidence = 0;
};

Blur blur_of(const FrameFacts& facts) {
  const Measure* edges = find(facts.measures, "blur_sigma_px");
  const Measure* texture = find(facts.measures, "texture_blur_px");
  if (texture && (!edges || edges->confidence < kEdgesTrusted))
    return {true, texture->value > kRoughSoftFrom, texture->value, texture->confidence};
  if (!edges) return {};
  const bool agrees = !texture || texture->value > kTextureAgrees;
  return {true, edges->value > kSoftFrom && agrees, edges->value, edges->confidence};
}

// Streaks have no sense of direction: (-L, a) is (L, a).
bool alike(const Seen& a, const Seen& b) {
  const double to_radians = std::numbers::pi / 180;
  const double ax = a.px * std::cos(a.degrees * to_radians), ay = a.px * std::sin(a.degrees * to_radians);
  const double bx = b.px * std::cos(b.degrees * to_radians), by = b.px * std::sin(b.degrees * to_radians);
  const double apart = std::min(std::hypot(ax - bx, ay - by), std::hypot(ax + bx, ay + by));
  // Both lengths are good to 1.5 px or 10 %, both directions to 4 degrees; doubled.
  return apart <= std::max(3.0, .3 * std::max(a.px, b.px));
}

std::string streak_text(const Seen& s) {
  return fixed(s.px, s.px < 9.95 ? 1 : 0) + " px along " + fixed(s.degrees, 0) + " degrees";
}

}  // namespace

const char* name_of(MotionKind kind) {
  switch (kind) {
    case MotionKind::sharp:
      return "sharp";
    case MotionKind::subject:
      return "subject motion";
    case MotionKind::camera:
      return "camera shake";
    case MotionKind::both:
      return "subject and camera moved";
    case MotionKind::pan:
      return "panning shot";
    case MotionKind::soft:
      return "soft";
    case MotionKind::unknown:
      break;
  }
  return "unknown";
}

MotionFinding motion_kind(const FrameFacts& facts) {
  const Seen subject = seen(facts, "motion_px", "motion_deg"),
             background = seen(facts, "background_motion_px", "background_motion_deg");
  const Blur blur = blur_of(facts);
  MotionFinding out;
  out.background_known = background.known;
  if (subject.streaked && background.streaked) {
    const bool same = alike(subject, background);
    out.kind = same ? MotionKind::camera : MotionKind::both;
    out.confidence = std::min(subject.confidence, background.confidence);
    out.text =
        same ? "camera shake of " + streak_text(subject) + " (background " + streak_text(background) + ")"
             : "subject moved " + streak_text(subject) + ", background " + streak_text(background);
  } else if (subject.streaked) {
    out.kind = MotionKind::subject;
    out.confidence = subject.confidence;
    out.text = background.known ? "subject moved " + streak_text(subject)
                                : "subject moved, or camera shake, " + streak_text(subject) +
                                      " (the background is too plain to tell)";
  } else if (blur.soft) {
    out.kind = MotionKind::soft;
    out.confidence = blur.confidence;
    out.text = "soft in all directions, blur " + fixed(blur.px, 1) + " px";
  } else if (blur.known && background.streaked) {
    out.kind = MotionKind::pan;
    out.confidence = std::min(blur.confidence, background.confidence);
    out.text = "panning shot: sharp subject, background " + streak_text(background);
  } else if (blur.known) {
    out.kind = MotionKind::sharp;
    out.confidence = blur.confidence;
    out.text = "no streak";
  }
  return out;
}

}  // namespace burstsieve::rank
