// Counting: which animals a finder found, which of its boxes are one, and how well they fit.
#pragma once
#include <array>
#include <map>
#include <string>
#include <vector>

#include "burstsieve/model/measure.h"

namespace burstsieve::subject_check {

inline constexpr double kHit = .5;  // overlap (IoU) from which a box counts as found

// By the width of the animal's box, as a share of the frame's width.
enum class Size { tiny, small, medium, large };
inline constexpr std::array kSizes{Size::tiny, Size::small, Size::medium, Size::large};
Size size_of(const Region& box);  // < 7 %, < 15 %, <= 30 %, more
const char* name_of(Size size);

// What one finder said of one picture.
struct Answer {
  std::string source;
  std::vector<Subject> boxes;
};

struct Match {
  double best = 0;     // overlap of the best box with this animal, 0..1
  bool found = false;  // a box of its own overlaps it by kHit; each box counts for one animal
};
// One for each truth box. Boxes choose in order of confidence.
std::vector<Match> matched(const std::vector<Region>& truth, const std::vector<Subject>& boxes);

struct Count {
  int all = 0, hit = 0;
  double share() const { return all > 0 ? static_cast<double>(hit) / all : 0; }
};

// "75 % (3 of 4)"; "-" of none.
std::string shown(const Count& count);

struct Score {
  Count animals;                             // truth boxes, and those found
  std::map<Size, Count> by_size;             // the same
  Count boxes;                               // boxes given on pictures with animals, and those that are one
  Count empty;                               // pictures without an animal, and those with a box all the same
  std::vector<double> overlaps;              // best overlap with each truth box
  double overlap_at(double quantile) const;  // 0..1; 0 when there are none
};

void add(Score& score, const std::vector<Region>& truth, const std::vector<Subject>& boxes);
// For a finder that is asked for one animal only: every picture with animals counts once, found when the box
// is one of them, under the size of the largest.
void add_first(Score& score, const std::vector<Region>& truth, const std::vector<Subject>& boxes);

}  // namespace burstsieve::subject_check
