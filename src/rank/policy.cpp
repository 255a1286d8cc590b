#include "burstsieve/rank/policy.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::rank {
namespace {

struct Entry {
  std::size_t index = 0;  // into the burst
  Standing standing;
  std::vector<Reason> faults;
  double blur = -1;
  double confidence = 0;  // of the blur
};

bool surely_faulty(const Entry& e, const PolicyOptions& o) {
  return std::any_of(e.faults.begin(), e.faults.end(),
                     [&](const Reason& r) { return r.confidence >= o.sure; });
}

Entry entry_of(const Contender& c, std::size_t index, const PolicyOptions& options) {
  Entry e{index, standing_of(*c.facts), faults_of(*c.facts, options, c.has_raw), effective_blur(*c.facts), 0};
  if (const Measure* m = find(c.facts->measures, "blur_sigma_px")) e.confidence = m->confidence;
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

Reason softer_reason(const Entry& e, const Entry& best, const std::string& name, double limit) {
  const double ratio = std::max(kSharpAsCanBe, e.blur) / std::max(kSharpAsCanBe, best.blur);
  const std::string text = "softer than " + name + ", same pose: blur " + fixed(e.blur, 2) + " px against " +
                           floored_text(best.blur) + " (x" + fixed(ratio, 2) + ", limit x" + fixed(limit, 2) +
                           ")";
  return {"softer", text, ratio, "x", limit, std::min(e.confidence, best.confidence)};
}

// Ordered for one pose: frames without a sure fault first, then by score; the earlier frame where they tie
// exactly.
void sort_pose(std::vector<Entry>& entries, const PolicyOptions& o) {
  std::stable_sort(entries.begin(), entries.end(), [&](const Entry& a, const Entry& b) {
    if (a.standing.known != b.standing.known) return a.standing.known;
    const bool fa = surely_faulty(a, o), fb = surely_faulty(b, o);
    if (fa != fb) return fb;
    if (a.standing.order != b.standing.order) return a.standing.order > b.standing.order;
    return a.index < b.index;
  });
}

// Better beyond the doubt of both measurements (one standard deviation of the difference).
bool surely_better(const Entry& best, const Entry& e) {
  return best.standing.score - e.standing.score >
         std::hypot(best.standing.uncertainty, e.standing.uncertainty);
}

// The verdict on a frame that is not its pose's best. Softness alone sends it off only when the better one
// has no fault, not even a doubtful one: a photographer may prefer whole whites to the last bit of sharpness.
// `staying`: the pose's best, which is never rejected.
FrameVerdict judge_other(const Entry& e, const Entry& staying, const Contender& staying_frame,
                         const PolicyOptions& o) {
  FrameVerdict v;
  v.reasons = e.faults;
  const bool better = surely_better(staying, e);
  const auto fault =
      std::find_if(e.faults.begin(), e.faults.end(), [&](const Reason& r) { return r.confidence >= o.sure; });
  const Reason softer = softer_reason(e, staying, staying_frame.name, o.softer_ratio);
  if (better && fault != e.faults.end()) {
    v.verdict = Verdict::reject;
    std::rotate(v.reasons.begin(), v.reasons.begin() + (fault - e.faults.begin()),
                v.reasons.begin() + (fault - e.faults.begin()) + 1);
    if (softer.value > 1) v.reasons.push_back(softer);
  } else if (better && staying.faults.empty() && softer.value >= o.softer_ratio &&
             softer.confidence >= o.sure) {
    v.verdict = Verdict::reject;
    v.reasons.insert(v.reasons.begin(), softer);
  } else {
    v.reasons.push_back({"close",
                         "same pose as " + staying_frame.name + " and close to it: blur " + fixed(e.blur, 2) +
                             " against " + fixed(staying.blur, 2) + " px",
                         e.blur, "px", staying.blur, std::min(e.confidence, staying.confidence)});
  }
  if (v.verdict == Verdict::reject) {
    v.rating = -1;
    v.better = staying_frame.name;
  }
  return v;
}

FrameVerdict judge_best(const std::vector<Entry>& pose, const FrameFacts& facts, const PolicyOptions& o) {
  const Entry& best = pose.front();
  FrameVerdict v;
  v.reasons = best.faults;
  const Entry* next = pose.size() > 1 && pose[1].standing.known ? &pose[1] : nullptr;
  const Reason reason = best_reason(best, next, pose.size());
  if (best.faults.empty() && best.confidence >= o.keep_sure) {
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

}  // namespace

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
  if (!(keep_sure > 0 && keep_sure <= 1))
    return fail("the confidence for a keep must be above 0 and up to 1");
  return Done{};
}

std::vector<FrameVerdict> judge(const std::vector<Contender>& frames, const PolicyOptions& options) {
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
    for (std::size_t place = 0; place < pose.size(); ++place) {
      const Entry& e = pose[place];
      const Contender& best = frames[pose.front().index];
      FrameVerdict v = place == 0 ? judge_best(pose, *frames[e.index].facts, options)
                                  : judge_other(e, pose.front(), best, options);
      v.pose = key.first;
      v.place = static_cast<int>(place) + 1;
      out[e.index] = std::move(v);
    }
  }
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
