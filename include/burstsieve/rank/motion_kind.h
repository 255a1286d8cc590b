// What moved: told from the streaks of subject and background and from the subject's blur.
#pragma once
#include <string>

#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

enum class MotionKind {
  unknown,  // too little was measured
  sharp,    // neither streaked nor soft
  subject,  // the subject moved against a still or featureless background
  camera,   // subject and background carry the same streak
  both,     // both are streaked, not alike
  pan,      // a sharp subject on a streaked background: a good panning shot
  soft,     // blurred alike in all directions: out of focus
};
const char* name_of(MotionKind kind);

struct MotionFinding {
  MotionKind kind = MotionKind::unknown;
  double confidence = 0;          // 0..1
  bool background_known = false;  // false: `subject` may be the camera's doing, the background can't tell
  std::string text;               // for people, with the numbers: "camera shake of 11 px along 24 degrees"
};

// Streaks of motion_px, motion_deg, background_motion_px, background_motion_deg; blur of blur_sigma_px, else
// texture_blur_px. Streaks below 3 px count as none; a subject blurred by more than 1.7 px without a streak
// is soft.
MotionFinding motion_kind(const FrameFacts& facts);

}  // namespace burstsieve::rank
