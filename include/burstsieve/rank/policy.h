// From measures to verdicts, conservatively: a frame is rejected only for a measured reason above a stated
// confidence, and only while a better look-alike stays.
#pragma once
#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"
#include "burstsieve/rank/preference.h"

namespace burstsieve::rank {

struct PolicyOptions {
  // Blur at which fine feather no longer carries. At 2.2 px a line pair needs 12 px for half its contrast
  // (MTF50 = .085 cycles/px): 6000 px then hold what a sharp 2,000 px picture holds. Full-size px, > 0.
  double soft_px = 2.2;
  // A look-alike must be this much less blurred before the softer one goes. Repeated measurements of one
  // scene under noise x0.6-1.6 differ by up to 1.12 (tests/measure); doubled in log terms. > 1.
  double softer_ratio = 1.3;
  // Streak of the subject that a viewer sees at full size: 6 px add as much blur as a sigma of 1.7 px, and no
  // sharp texture or photograph of tests/measure was surely taken for 3 px or more. Full-size px, > 0.
  double motion_px = 6;
  // Share of the white plumage whose green or whose two channels are clipped: detail gone, not recoverable.
  // (0,1].
  double clipped = .05;
  // Share of the subject's outline on the frame's edge; a wing tip is below a tenth. (0,1].
  double cut = .10;
  // Confidence a reason needs to reject. Below it the frame stays undecided. (0,1].
  // Confidences are calibrated (measure/trust.h). At .60 a held-out season lost 11 of 440 true best frames to
  // blur read too high; at .70 and .75 none.
  double sure = .75;
  // Confidence the sharpness needs for a keep. (0,1].
  double keep_sure = .60;
  // What a photographer's choices have taught (rank/learning.h). It chooses which of the frames that stay is
  // the one to keep, and never whether a frame stays. Nothing: ties are broken by default taste.
  std::optional<Weights> learnt;
  // Keeps of one burst at the most; 0: one for every pose. >= 0. Which poses they are: rank/choice.h.
  int keep_most = 0;
  Status check() const;
};

// One frame as the policy sees it.
struct Contender {
  std::string name;  // how a reason refers to it: its file name
  const FrameFacts* facts = nullptr;
  int pose = 0;  // group::pose_groups; 0: no picture to compare
  // The photographer rejected it: it stays what they said, and must not be the better one that another goes
  // for.
  bool rejected_by_hand = false;
  // A raw belongs to the frame: what its rendering clips, the sensor may hold.
  bool has_raw = true;
};

// Code of the reason of a sound, undecided frame whose pose has a kept frame as good: nobody needs to look at
// it to lose nothing.
inline constexpr const char* kSpare = "spare";
// Code of the reason of a frame that would be a keep if the photographer wanted more of a burst.
inline constexpr const char* kOverNumber = "over_number";
// Undecided for one of these two reasons.
bool is_spare(const FrameVerdict& verdict);

// How good a frame is among its look-alikes.
struct Standing {
  double score = 0;        // higher is better; one unit is a factor of two in blur; what may reject. By the
                           // default weights of the measured features, whatever was learnt
  double order = 0;        // the same with the blur as measured: enough to line frames up by
  double uncertainty = 0;  // standard deviation of the score
  bool known = false;      // false: not enough was measured to compare
};
Standing standing_of(const FrameFacts& facts);

// Blur that the eye meets: the edges' own and the streak's share together, full-size px. Negative when
// unknown.
double effective_blur(const FrameFacts& facts);

// Faults beyond their limits, gravest first; those below `sure` are included: the verdict weighs them. The
// confidence of a reason is how sure it is that the truth lies beyond the limit. has_raw: as in Contender.
std::vector<Reason> faults_of(const FrameFacts& facts, const PolicyOptions& options, bool has_raw = true);

// xmp:Rating of a keep by its own quality: 5 for a blur up to .9 px (prints at its full pixel count), 4
// to 1.2, 3 to 1.6, 2 to 2.0, else 1; one less when whites or outline suffered.
int stars_of(const FrameFacts& facts, const PolicyOptions& options);

// Verdicts for one burst, in the order of `frames`. Frames are compared inside a pose and a picture size.
// Guarantees, whatever the measures say: every frame gets a verdict with at least one reason; a rejected
// frame's `better` stays, is of the same pose and stands higher; at least one frame of the burst stays; a
// damaged or unmeasured frame is undecided. Whatever was learnt, the same frames are rejected for the same
// reasons, and as many are kept.
// alike: how much the subjects of two frames show the same posture, 0..1; asked only for keeps of different
// poses, and only when there are more than options.keep_most. Empty: different poses have nothing in common.
using Alike = std::function<double(std::size_t, std::size_t)>;
std::vector<FrameVerdict> judge(const std::vector<Contender>& frames, const PolicyOptions& options,
                                const Alike& alike = {});

// Frames whose highlights can still matter: those that may stay, for which reading the raw mosaic pays.
std::vector<bool> in_contention(const std::vector<Contender>& frames, const PolicyOptions& options);

}  // namespace burstsieve::rank
