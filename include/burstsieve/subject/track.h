// Follows an animal from one frame of a burst to the next, so that it need not be searched anew in every
// frame.
#pragma once
#include "burstsieve/model/measure.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {

struct Tracked {
  Region box;             // in the later frame
  double confidence = 0;  // 0..1 that the same animal lies in it; 0: lost
};

// From this confidence on the box held the animal (overlap of .5 and more) in 91 % of 130 steps of generated
// seasons (tests/subject/track_test.cpp); below it (135 steps), search anew.
inline constexpr double kTrackTrusted = .5;

// The box of `before` found again in `now`, both glances of the same burst and size. It is looked for where
// it was (the photographer pans with the bird) and where the background's shift would have taken it (the boat
// rocks, the bird sits): correlation of the patch at three sizes, the best place against the next best one.
// Position to about a thirtieth of the box. Lost when: a side of the box is below 5 glance pixels (2 % of the
// frame's width), the wings beat, the animal turns or leaves the frame, or is among others alike.
Tracked follow_box(const Glance& before, const Region& box, const Glance& now);

// As above; where the whole has changed its shape (wings), its core is followed and the box drawn anew around
// the detail that holds together there (stable_box() of `energy`, the energy_map() of the later frame).
Tracked follow_animal(const Glance& before, const Region& box, const Glance& now, const cv::Mat& energy);

}  // namespace burstsieve::subject
