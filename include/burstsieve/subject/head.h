// The head of an animal, and whether it shows: docs/subject.md, "Head".
//
// Every place of the animal is compared, at seven sizes, with what heads look like: where on the body it lies
// (an end, away from the core), how the outline runs around it, an eye (dark_symmetry() of an eye's size),
// light, colour and texture along the line from the body (the bill ahead, the neck behind, the lie of the
// feathers). The weights were fitted to generated birds and to cut-outs of photographs (tools/heads). Blind
// to: birds seen from straight ahead or behind, other animals than birds, more than one head in the box.
#pragma once
#include <functional>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::subject {

// Longer side of the picture of the animal in which its head is looked for, px.
inline constexpr int kHeadSide = 240;

struct HeadCrop {
  cv::Mat bgr;   // CV_8UC3, longer side at most kHeadSide; empty where the box is empty
  Region where;  // what it shows of the frame: the box and a sixteenth more on every side
};
HeadCrop head_crop(const decode::Planes& planes, const Region& box);

// The mask's cells as CV_8U of `size` over `where`, 255: animal; its steps smoothed. All of it where the mask
// is empty.
cv::Mat mask_over(const CellMask& mask, const Region& where, cv::Size size);

// A place that could be the head.
struct HeadPlace {
  Region head;      // a square in pixels around it
  double odds = 0;  // log odds by its look alone
  double eye = 0;   // strength of the best eye in it: about 1 and more for one that shows
  double eye_x = 0, eye_y = 0;
};

// What was seen in one frame; enough to ask the other frames of the burst about it.
struct HeadEvidence {
  bool looked = false;            // false: too small or too soft to look for a head
  Region box;                     // of the animal
  std::vector<HeadPlace> places;  // best first, apart from each other, at most six
  // Log odds: that the first place is the head, to half a head; that the head is hidden.
  double visible = 0, hidden = 0;
};

struct HeadFinding {
  HeadView view = HeadView::unknown;
  Region head;            // where visible
  double confidence = 0;  // 0..1 that view, and head where visible, are right
  std::string why;        // for people
  HeadEvidence evidence;
};

// From these probabilities on a head counts as visible, or hidden (docs/subject.md has the figures).
inline constexpr double kHeadVisible = .8, kHeadHidden = .5;

struct HeadInput {
  HeadCrop crop;
  cv::Mat mask;  // over the crop: mask_over(), or better
  Region box;    // of the animal, in the frame
  // The camera's focus area, where it lies in the subject and is no larger than a third of it: a mild prior.
  // Never fitted: a generated camera's lies on the true head.
  std::optional<Region> af;
};
HeadFinding find_head(const HeadInput& input);

// What frame `i` is after all frames of the burst have been seen: the same animal's head does not change its
// size, nor jump about the body, and where it is found with ease in most frames, one without it hides it.
// Never makes up a place: unknown may become hidden, visible may become unknown, confidences rise and fall.
// `all` in the order of the burst; frames without evidence take no part.
struct HeadJudgement {
  HeadView view = HeadView::unknown;
  double confidence = 0;
};
std::vector<HeadJudgement> agree_on_heads(const std::vector<HeadEvidence>& all);

// find_head() for each subject: fills head (where visible), head_view and head_confidence. `outline`: the
// mask of a subject. Gives back what was seen of the first one.
HeadEvidence look_for_heads(const decode::Planes& planes, const Capture& capture,
                            const std::function<CellMask(const Subject&)>& outline,
                            std::vector<Subject>& subjects);
// What the burst says goes into the subject. Its head region stays: sharpness was read there.
void settle_head(const HeadJudgement& judged, Subject& subject);

}  // namespace burstsieve::subject
