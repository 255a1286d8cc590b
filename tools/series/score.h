// How an order of photographs agrees with what people chose.
#pragma once
#include <cstddef>
#include <map>
#include <string>
#include <vector>

#include "choices_file.h"

namespace burstsieve::series {

// Hits may be halves.
struct Share {
  double hit = 0;
  int of = 0;
  double value() const { return of ? hit / of : 0; }
  // 95 %, Wilson (Journal of the American Statistical Association 1927).
  double low() const;
  double high() const;
};

struct Score {
  Share pairs;  // with a majority; our order is the majority's. No answer of ours for both: half a hit
  Share decided_pairs;  // those where 70 % or more agree
  Share top_1, top_3;   // series whose best photograph by the people is our first, is among our first three
  Share top_3_of_many;  // the latter over series of at least six, where three are not half of all
  int photographs = 0, unmeasured = 0;
  double mean_length = 0;  // photographs per series
};

// place: 1 is best; 0 or absent: no answer, behind all others. The people's best is the photograph with the
// largest mean share over its pairs; where several have it, any of them will do.
void add_series(const std::vector<PairChoice>& choices, const std::map<std::string, int>& place,
                Score& score);

}  // namespace burstsieve::series
