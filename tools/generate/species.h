// Shape and colour of the invented birds, in bird units (one is about a gull's length from bill to tail).
#pragma once
#include <cstddef>
#include <vector>

#include "bird.h"
#include "geometry.h"

namespace burstsieve::generate {

struct Ring {
  double x, y, r;
};

// What differs between species and postures.
struct Form {
  std::vector<Ring> spine;  // tail root to forehead
  std::size_t head_ring;    // the ring at the middle of the head
  double neck_from;         // 0..1 along the spine: from here on it is head and neck
  std::vector<Ring> bill;
  V3 bill_colour, bill_tip;
  double tail_length, tail_spread_deg, tail_fork;
  double arm, hand, primary, chord;  // wing, bird units
  double eye;
  double leg_length;
  V3 leg_colour;
};

inline constexpr V3 white_feather{.80, .79, .77}, ivory{.77, .755, .72}, black_feather{.030, .029, .031};

Form form_of(Species species, Pose pose);

// Catmull-Rom through the rings, a in 0..1.
Ring spine_at(const std::vector<Ring>& rings, double a);

// Plumage of body, neck and head. `a`: place along the spine, 0..1; `up`: the surface normal's y;
// `from_head`: position about the head's centre in head radii (x forward along the bill line, y up from it).
V3 body_colour(Species species, double a, double up, bool on_head, V3 from_head);

}  // namespace burstsieve::generate
