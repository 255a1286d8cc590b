// How sharp is each place of the frame? A coarse map for comparing planes, not for judging a bird.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/model/region.h"

namespace burstsieve::measure {

// Cells of a multiple of 16 px, about 64 across the longer side, in the layout of the picture it was made of.
struct FocusMap {
  int cell = 0;  // side in px of the luma
  cv::Mat1f
      sigma;  // Gaussian blur of the cell's strongest edge, px of the luma; < 0: no edge above the noise
  cv::Mat1f weight;  // contrast of that edge, 8-bit codes; 0 where there is none
  cv::Mat1b lies;    // 1: the edge runs along the rows rather than down the columns
  bool empty() const { return sigma.empty(); }
};

// luma: CV_8U. activity: image::activity_map(luma); cells that it calls quiet are not looked at.
// Per cell the steepest step of one pixel against the largest difference over 16 pixels, along rows and
// columns. For an edge of width s these are erf(.5/(s sqrt 2)) and erf(8/(s sqrt 2)) of its height; their
// ratio gives s between .4 and 10 px whatever the contrast. What noise adds to both is measured on the
// frame's quiet cells and taken off. Within about 30 % on single cells of clean step edges. Blind to: which
// object the edge belongs to; low contrast in much noise.
FocusMap focus_map(const cv::Mat& luma, const cv::Mat& activity);

// The same map of the picture once it is upright.
FocusMap upright(const FocusMap& map, int orientation);

enum class FocusSide { unknown, subject, before, behind, elsewhere };

// Where the plane of focus lies against the subject.
struct FocusPlane {
  // subject: the subject itself is among the sharpest things (others may be, too). before, behind: nearer or
  // farther than the subject, told by what covers what. elsewhere: not on the subject, but the picture does
  // not tell which side. unknown: too little detail.
  FocusSide side = FocusSide::unknown;
  double confidence = 0;  // 0..1
  Region place;           // upright, around most of the sharp cells outside the subject; empty without any
  double own_share = 0;   // of the subject's cells with edges: those that are sharp and its own
  // Sharp edges that lie along the rows, in the subject, against those expected there from the rest of the
  // frame: what sharp grass and reeds have few of, and a bird's back has.
  int lying = 0;
  double lying_expected = 0;
  double above = 0;        // of the sharp cells outside: those above the subject's middle
  double at_foot = 0;      // and those in the lowest twelfth of the frame
  double own_sigma = 0;    // median blur of the subject's own cells, px of the luma; 0: no cells
  double sharp_sigma = 0;  // the blur from which on a cell counts as sharp
  // Part of the subject's box that is least in the way of what is sharp elsewhere: above everything sharp
  // that crosses it from below, or its middle where the sharp plane is behind; else the box. Empty: nothing
  // is left.
  Region clear;
};

// map: upright(). box: the subject's, upright. Sharp cells are those within 1.7 times the map's sharpest. A
// sharp upright streak that runs on below the box (reed, twig) is not the subject's own. The subject is in
// focus when enough of its own cells are sharp, or when its sharp edges lie otherwise than those around it.
// Else the sharp plane is told by the ground: it rises in the picture with distance, so a sharp zone that
// reaches the frame's foot is nearer than the subject, and one that ends above the foot and lies mostly
// beside or above the subject is farther. Blind to: a level of its own above the ground (a branch close by
// that hangs in from above, a cliff edge); a box that is not the animal's.
FocusPlane focus_plane(const FocusMap& map, const Region& box);

}  // namespace burstsieve::measure
