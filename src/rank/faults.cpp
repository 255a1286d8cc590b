#include <algorithm>
#include <cmath>
#include <optional>

#include "beyond.h"
#include "burstsieve/base/text.h"
#include "burstsieve/rank/motion_kind.h"
#include "burstsieve/rank/policy.h"
#include "whites.h"

namespace burstsieve::rank {
namespace {

// Below the confidence that any sensible --sure asks for.
constexpr double kNeverSure = .3;
// The most that whites are believed from a rendering beside which a raw exists: it clips up to a stop before
// the sensor does.
constexpr double kRendered = .5;

std::string percent(double fraction) {
  return fixed(100 * fraction, fraction < .1 ? 1 : 0) + " %";
}

// Softness is laid to the focus only when another plane is clearly sharper and no streak explains it.
constexpr double kSharperElsewhere = 1.5, kFocusSure = .5, kDoubtful = .2;

double value_of(const FrameFacts& facts, const char* id) {
  const Measure* m = find(facts.measures, id);
  return m ? m->value : 0;
}

// "at the lower left", of the middle of the sharp place.
std::string place_of(const FrameFacts& facts) {
  const double x = value_of(facts, "focus_elsewhere_x") + value_of(facts, "focus_elsewhere_w") / 2;
  const double y = value_of(facts, "focus_elsewhere_y") + value_of(facts, "focus_elsewhere_h") / 2;
  const std::string upright = y < .4   ? "upper"
                              : y > .6 ? "lower"
                                       : "",
                    across = x < .4   ? "left"
                             : x > .6 ? "right"
                                      : "";
  if (upright.empty() && across.empty()) return "in the middle of the frame";
  if (across.empty()) return "in the " + upright + " part of the frame";
  return "at the " + upright + (upright.empty() ? "" : " ") + across;
}

std::optional<std::string> focused_on(const FrameFacts& facts, const PolicyOptions& o) {
  const Measure* ratio = find(facts.measures, "focus_elsewhere");
  const Measure* side = find(facts.measures, "focus_elsewhere_side");
  if (!ratio || !side || ratio->value < kSharperElsewhere || ratio->confidence < kFocusSure)
    return std::nullopt;
  const Measure* streak = find(facts.measures, "motion_px");
  if (streak && streak->value > o.motion_px && streak->confidence >= kFocusSure) return std::nullopt;
  if (side->value < 0) return "on the foreground";
  if (side->value > 0) return "on the background";
  return "elsewhere, " + place_of(facts);
}

// The box holds sharp edges, but the map of the frame lays them to something else: no ground for a reject,
// and none for a keep. On generated depth scenes frames of missed focus were kept for such edges.
void add_doubtful_focus(const FrameFacts& facts, const Measure& blur, const PolicyOptions& o,
                        std::vector<Reason>& out) {
  const Measure* side = find(facts.measures, "focus_elsewhere_side");
  if (!side || side->value == 0 || side->confidence < kDoubtful) return;
  out.push_back(
      {"missed_focus",
       std::string("focus may have landed on the ") + (side->value < 0 ? "foreground" : "background") +
           ": the sharp edges in the subject's box may not be its own (blur " + fixed(blur.value, 2) + " px)",
       blur.value, "px", o.soft_px, std::min(side->confidence, kNeverSure)});
}

void add_soft(const FrameFacts& facts, const PolicyOptions& o, std::vector<Reason>& out) {
  const Measure* m = find(facts.measures, "blur_sigma_px");
  if (!m) return;
  if (m->value <= o.soft_px) return add_doubtful_focus(facts, *m, o, out);
  const double sure = surely_softer(facts, o.soft_px);
  if (const auto where = focused_on(facts, o)) {
    out.push_back({"missed_focus",
                   "focus landed " + *where + ", subject " + fixed(m->value, 1) + " px soft, limit " +
                       fixed(o.soft_px, 1) + " px",
                   m->value, "px", o.soft_px, sure});
    return;
  }
  out.push_back({"soft",
                 "subject soft: blur " + fixed(m->value, 2) + " px, limit " + fixed(o.soft_px, 1) + " px",
                 m->value, "px", o.soft_px, sure});
}

void add_motion(const FrameFacts& facts, const PolicyOptions& o, std::vector<Reason>& out) {
  const Measure* m = find(facts.measures, "motion_px");
  if (!m || m->value <= o.motion_px) return;
  // The background only names who moved: it never weighs, a panning shot has its streaks there.
  const MotionFinding found = motion_kind(facts);
  const bool named =
      found.kind == MotionKind::subject || found.kind == MotionKind::camera || found.kind == MotionKind::both;
  const std::string what = named ? found.text : "motion blur: " + fixed(m->value, 1) + " px";
  out.push_back({"motion", what + ", limit " + fixed(o.motion_px, 1) + " px", m->value, "px", o.motion_px,
                 surely_streaked(facts, o.motion_px)});
}

void add_whites(const FrameFacts& facts, const PolicyOptions& o, bool has_raw, std::vector<Reason>& out) {
  const Measure* r = find(facts.measures, "white_clipped_r");
  const Measure* g = find(facts.measures, "white_clipped_g");
  const Measure* b = find(facts.measures, "white_clipped_b");
  if (!r || !g || !b) return;
  const ClippedWhites whites = clipped_whites(facts);
  const bool sensor = g->basis == "raw mosaic";
  const bool doubtful = !sensor && has_raw;
  const std::string seen = doubtful ? "rendered " + g->basis + ", less sure" : g->basis;
  const double beyond = surely_clipped(facts, whites.lost, o.clipped);
  const double confidence = doubtful ? std::min(beyond, kRendered) : beyond;
  if (whites.lost > o.clipped) {
    out.push_back({"whites_clipped",
                   "white plumage clipped over " + percent(whites.lost) + ", limit " + percent(o.clipped) +
                       " (" + seen + ")",
                   whites.lost, "", o.clipped, confidence});
  } else if (const double any = whites.lost + whites.recoverable; any > o.clipped) {
    // Worth a look, but what can be recovered is no ground for a reject.
    out.push_back({"whites_clipped",
                   "white plumage clipped in one channel over " + percent(whites.recoverable) +
                       ", recoverable, limit " + percent(o.clipped) + " (" + seen + ")",
                   any, "", o.clipped, std::min(g->confidence, kNeverSure)});
  }
}

void add_cut(const FrameFacts& facts, const PolicyOptions& o, std::vector<Reason>& out) {
  const Measure* m = find(facts.measures, "cut_by_edge");
  if (!m || m->value <= o.cut) return;
  out.push_back({"cut",
                 "subject cut by the frame's edge over " + percent(m->value) + " of its outline, limit " +
                     percent(o.cut),
                 m->value, "", o.cut, surely_cut(facts, o.cut)});
}

void add_hidden_head(const FrameFacts& facts, std::vector<Reason>& out) {
  constexpr double kLikely = .7;  // below it a hidden head is no ground to pass a frame over
  if (facts.subjects.empty() || facts.subjects.front().head_view != HeadView::hidden) return;
  const double hidden = facts.subjects.front().head_confidence;
  if (hidden < kLikely) return;
  out.push_back({"head_hidden", "head hidden or turned away (confidence " + fixed(hidden, 2) + ")", hidden,
                 "", kLikely, hidden});
}

}  // namespace

std::vector<Reason> faults_of(const FrameFacts& facts, const PolicyOptions& options, bool has_raw) {
  std::vector<Reason> out;
  add_soft(facts, options, out);
  add_motion(facts, options, out);
  add_whites(facts, options, has_raw, out);
  add_cut(facts, options, out);
  add_hidden_head(facts, out);
  // Gravest: how far beyond its limit, weighted with how sure.
  std::stable_sort(out.begin(), out.end(), [](const Reason& a, const Reason& b) {
    return a.value / a.limit * a.confidence > b.value / b.limit * b.confidence;
  });
  return out;
}

}  // namespace burstsieve::rank
