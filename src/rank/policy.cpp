#include "burstsieve/rank/policy.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "beyond.h"
#include "burstsieve/base/text.h"
#include "burstsieve/rank/ordering.h"
#include "keep_number.h"
#include "liked_reason.h"

namespace burstsieve::rank {
namespace {

struct Entry {
  std::size_t index = 0;  // into the burst
  Standing standing;
  std::vector<Reason> faults;
  double blur = -1;
  double confidence = 0;  // of the blur
  double taste = 0, liking = 0;
};

bool surely_faulty(const Entry& e, const PolicyOptions& o) {
  return std::any_of(e.faults.begin(), e.faults.end(),
                     [&](const Reason& r) { return r.confidence >= o.sure; });
}

Entry entry_of(const Contender& c, std::size_t index, const PolicyOptions& options) {
  Entry e{
      index, standing_of(*c.facts), faults_of(*c.facts, options, c.has_raw), effective_blur(*c.facts), 0, 0,
      0};
  if (const Measure* m = find(c.facts->measures, "blur_sigma_px")) e.confidence = m->confidence;
  const Features features = features_of(*c.facts);
  e.taste = taste_of(features, default_weights());
  e.liking = liking_of(features, options.learnt.value_or(default_weights()));
  return e;
}

Reason unmeasured_reason(const FrameFacts& facts) {
  if (!facts.damage.empty()) return {"damaged", "damaged: " + facts.damage, 0, "", 0, 1};
  if (!facts.decoded) return {"unreadable", "no picture could be read", 0, "", 0, 1};
  return {"unmeasured", "no subject edges found to judge sharpness by", 0, "", 0, 1};
}

Reason best_reason(const Entry& best, const Entry* next, std::size_t size) {
  std::string text = "blur " + fixed(best.blur, 2) + " px";
  if (next)
    text = "best of " + std::to_string(size) + " in its pose: " + text + ", next " + fixed(next->blur, 2) +
           " px";
  else
    text = "only frame of its pose: " + text;
  return {"best_of_pose", text, best.blur, "px", next ? next->blur : best.blur, best.confidence};
}

// Below the common floor the exact number would suggest a difference that the verdict does not use.
std::string floored_text(double blur) {
  return blur < kSharpAsCanBe ? "less than " + fixed(kSharpAsCanBe, 2) + " px" : fixed(blur, 2) + " px";
}

double softness_ratio(const Entry& e, const Entry& best) {
  return std::max(kSharpAsCanBe, e.blur) / std::max(kSharpAsCanBe, best.blur);
}

Reason softer_reason(const Entry& e, const Entry& best, const Contender& frame, const Contender& best_frame,
                     double limit) {
  const std::string& name = best_frame.name;
  const double ratio = softness_ratio(e, best);
  const std::string text = "softer than " + name + ", same pose: blur " + fixed(e.blur, 2) + " px against " +
                           floored_text(best.blur) + " (x" + fixed(ratio, 2) + ", limit x" + fixed(limit, 2) +
                           ")";
  return {"softer", text, ratio, "x", limit, surely_softer_than(*frame.facts, *best_frame.facts)};
}

bool keepable(const Entry& e, const PolicyOptions& o) {
  return e.faults.empty() && e.confidence >= o.keep_sure;
}

// Better beyond the doubt of both measurements (one standard deviation of the difference).
bool surely_better(const Entry& best, const Entry& e) {
  return best.standing.score - e.standing.score >
         std::hypot(best.standing.uncertainty, e.standing.uncertainty);
}

// By measure, for one pose: frames without a sure fault first, then by score; the earlier frame where they
// tie exactly.
void sort_pose(std::vector<Entry>& entries, const PolicyOptions& o) {
  std::stable_sort(entries.begin(), entries.end(), [&](const Entry& a, const Entry& b) {
    if (a.standing.known != b.standing.known) return a.standing.known;
    const bool fa = surely_faulty(a, o), fb = surely_faulty(b, o);
    if (fa != fb) return fb;
    if (a.standing.order != b.standing.order) return a.standing.order > b.standing.order;
    return a.index < b.index;
  });
  // A fault of the first that is only suspected must not cost the pose its keep, where another is as good
  // within the measurements and beyond doubt.
  if (keepable(entries.front(), o)) return;
  const auto sound = std::find_if(entries.begin(), entries.end(), [&](const Entry& e) {
    return keepable(e, o) && !surely_better(entries.front(), e) &&
           softness_ratio(e, entries.front()) < o.softer_ratio;
  });
  if (sound != entries.end()) std::rotate(entries.begin(), sound, sound + 1);
}

// The verdict on a frame that stays beside the one to keep. A sound one is spare where that is kept: whoever
// looks at the other has seen this one.
FrameVerdict judge_close(const Entry& e, const Entry& kept, const std::string& name, const PolicyOptions& o) {
  FrameVerdict v;
  v.reasons = e.faults;
  if (keepable(e, o) && keepable(kept, o)) {
    v.reasons.push_back({kSpare,
                         "spare: same pose as " + name +
                             ", which is kept, and as good within the measurements (blur " +
                             fixed(e.blur, 2) + " against " + fixed(kept.blur, 2) + " px)",
                         e.blur, "px", kept.blur, std::min(e.confidence, kept.confidence)});
    return v;
  }
  v.reasons.push_back({"close",
                       "same pose as " + name + " and close to it: blur " + fixed(e.blur, 2) + " against " +
                           fixed(kept.blur, 2) + " px",
                       e.blur, "px", kept.blur, std::min(e.confidence, kept.confidence)});
  return v;
}

// Where one frame surely has a fault and the other has none, not even a doubtful one, the other is better
// unless it is surely worse in the rest.
bool better_by_fault(const Entry& best, const Entry& e) {
  return best.faults.empty() && !surely_better(e, best);
}

// The verdict on a frame that is not its pose's best by measure: undecided, or a reject. Softness alone sends
// it off only when the better one has no fault, not even a doubtful one: a photographer may prefer whole
// whites to the last bit of sharpness. `staying`: the pose's best, which is never rejected.
FrameVerdict judge_other(const Entry& e, const Entry& staying, const std::vector<Contender>& frames,
                         const PolicyOptions& o) {
  const Contender& staying_frame = frames[staying.index];
  FrameVerdict v;
  v.reasons = e.faults;
  const auto fault =
      std::find_if(e.faults.begin(), e.faults.end(), [&](const Reason& r) { return r.confidence >= o.sure; });
  const Reason softer = softer_reason(e, staying, frames[e.index], staying_frame, o.softer_ratio);
  if (fault != e.faults.end() && (surely_better(staying, e) || better_by_fault(staying, e))) {
    v.verdict = Verdict::reject;
    std::rotate(v.reasons.begin(), v.reasons.begin() + (fault - e.faults.begin()),
                v.reasons.begin() + (fault - e.faults.begin()) + 1);
    if (softer.value > 1) v.reasons.push_back(softer);
  } else if (staying.faults.empty() && softer.value >= o.softer_ratio && softer.confidence >= o.sure) {
    v.verdict = Verdict::reject;
    v.reasons.insert(v.reasons.begin(), softer);
  } else {
    return judge_close(e, staying, staying_frame.name, o);
  }
  v.rating = -1;
  v.better = staying_frame.name;
  return v;
}

// `next`: the best by measure of the others, if there are any.
FrameVerdict judge_best(const Entry& best, const Entry* next, std::size_t size, const FrameFacts& facts,
                        const PolicyOptions& o) {
  FrameVerdict v;
  v.reasons = best.faults;
  const Reason reason = best_reason(best, next, size);
  if (keepable(best, o)) {
    v.verdict = Verdict::keep;
    v.rating = stars_of(facts, o);
    v.reasons.insert(v.reasons.begin(), reason);
  } else {
    if (best.faults.empty())
      v.reasons.push_back({"unsure",
                           "sharpness uncertain: blur " + fixed(best.blur, 2) + " px at confidence " +
                               fixed(best.confidence, 2) + ", a keep needs " + fixed(o.keep_sure, 2),
                           best.confidence, "", o.keep_sure, best.confidence});
    v.reasons.push_back(reason);
  }
  return v;
}

Candidate candidate_of(const Entry& e, const PolicyOptions& o) {
  return {e.standing.score, e.standing.uncertainty, e.taste, e.liking, surely_faulty(e, o), keepable(e, o)};
}

// Verdicts for one pose, into `out` by the frames' numbers. What goes is decided by measure alone, for the
// best by measure; which of the others is the one to keep, by what is liked (rank/ordering.h).
void judge_pose(const std::vector<Entry>& pose, const std::vector<Contender>& frames, const PolicyOptions& o,
                std::vector<FrameVerdict>& out) {
  const Contender& measured_best = frames[pose.front().index];
  std::vector<FrameVerdict> verdicts(pose.size());
  std::vector<bool> stays(pose.size(), true);
  std::vector<Candidate> candidates;
  for (std::size_t i = 0; i < pose.size(); ++i) {
    candidates.push_back(candidate_of(pose[i], o));
    if (i > 0) verdicts[i] = judge_other(pose[i], pose.front(), frames, o);
    stays[i] = verdicts[i].verdict != Verdict::reject;
  }
  std::vector<std::size_t> order = liked_order(candidates, o.learnt.has_value());
  const std::size_t kept = liked_best(candidates, order, stays);
  std::erase(order, kept);
  order.insert(order.begin(), kept);
  const Entry& best = pose[kept];
  for (std::size_t i = 0; kept != 0 && i < pose.size(); ++i)
    if (stays[i]) verdicts[i] = judge_close(pose[i], best, frames[best.index].name, o);
  const Entry* next = pose.size() < 2 ? nullptr : kept == 0 ? &pose[1] : &pose.front();
  verdicts[kept] = judge_best(best, next, pose.size(), *frames[best.index].facts, o);
  if (kept != 0)
    verdicts[kept].reasons.push_back(
        liked_reason(*frames[best.index].facts, *measured_best.facts, measured_best.name, o.learnt));
  for (std::size_t place = 0; place < order.size(); ++place) {
    FrameVerdict& v = verdicts[order[place]];
    v.pose = frames[best.index].pose;
    v.place = static_cast<int>(place) + 1;
    out[pose[order[place]].index] = std::move(v);
  }
}

}  // namespace

bool is_spare(const FrameVerdict& verdict) {
  return verdict.verdict == Verdict::undecided && !verdict.reasons.empty() &&
         (verdict.reasons.front().code == kSpare || verdict.reasons.front().code == kOverNumber);
}

Status PolicyOptions::check() const {
  const auto fail = [](const char* text) { return Error{Cause::unsupported, {}, text}; };
  if (!(soft_px > 0 && std::isfinite(soft_px))) return fail("the softness limit must be more than 0 px");
  if (!(softer_ratio > 1 && std::isfinite(softer_ratio)))
    return fail("the softer-than ratio must be more than 1");
  if (!(motion_px > 0 && std::isfinite(motion_px))) return fail("the motion limit must be more than 0 px");
  if (!(clipped > 0 && clipped <= 1))
    return fail("the clipping limit must be a fraction above 0 and up to 1");
  if (!(cut > 0 && cut <= 1)) return fail("the cut limit must be a fraction above 0 and up to 1");
  if (!(sure > 0 && sure <= 1)) return fail("the confidence for a reject must be above 0 and up to 1");
  if (keep_most < 0) return fail("the number of keeps of a burst must be 0 (every pose) or more");
  if (!(keep_sure > 0 && keep_sure <= 1))
    return fail("the confidence for a keep must be above 0 and up to 1");
  return Done{};
}

std::vector<FrameVerdict> judge(const std::vector<Contender>& frames, const PolicyOptions& options,
                                const Alike& alike) {
  std::vector<FrameVerdict> out(frames.size());
  std::map<std::pair<int, int>, std::vector<Entry>> poses;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    out[i].pose = frames[i].pose;
    if (frames[i].rejected_by_hand) {
      out[i].reasons.push_back({"yours", "your own rating rejects it", -1, "", 0, 1});
      continue;
    }
    Entry e = entry_of(frames[i], i, options);
    if (!e.standing.known || frames[i].pose == 0) {
      out[i].reasons = e.faults;
      out[i].reasons.insert(
          out[i].reasons.begin(),
          e.standing.known ? Reason{"unplaced", "no picture of the subject to compare poses by", 0, "", 0, 1}
                           : unmeasured_reason(*frames[i].facts));
      continue;
    }
    // Blur in pixels of files of different size can't be compared: a reduced copy would beat its own
    // original.
    const int side = std::max(frames[i].facts->pixel_width, frames[i].facts->pixel_height);
    poses[{frames[i].pose, side}].push_back(std::move(e));
  }
  for (auto& [key, pose] : poses) {
    sort_pose(pose, options);
    judge_pose(pose, frames, options, out);
  }
  if (options.keep_most > 0) keep_no_more(static_cast<std::size_t>(options.keep_most), alike, out);
  return out;
}

std::vector<bool> in_contention(const std::vector<Contender>& frames, const PolicyOptions& options) {
  // A frame that goes for its sharpness goes whatever its whites are.
  const auto verdicts = judge(frames, options);
  std::vector<bool> out(frames.size());
  for (std::size_t i = 0; i < frames.size(); ++i)
    out[i] = verdicts[i].verdict != Verdict::reject && standing_of(*frames[i].facts).known;
  return out;
}

}  // namespace burstsieve::rank
