// Several animals in one frame: which are sharp together, in words. Names only; no verdict uses it.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/model/depth_of_field.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

// Blurs this much apart are taken for two depths: each is measured within about 10 %
// (tests/measure/several_test.cpp).
inline constexpr double kSameDepth = 1.25;

struct SeveralSubjects {
  int count = 0;  // subjects whose blur is known, however unsure
  // For each of FrameFacts::subjects: 1 for those as sharp as the sharpest, 2 for the next depth, ...; 0
  // where the blur is not known. Side of the plane of focus: not told, a blur has no sign.
  std::vector<int> depth;
  // For each of them: within the depth of field of the sharpest, judged at 100 % (a circle of 2 px), from the
  // blurs alone. Too close to tell where the blur is not known.
  std::vector<InDepth> inside;
  // "2 subjects: the second 3.1 px soft, 2.4 times the first"; empty with fewer than two.
  std::string text;
};

// A subject is as sharp as the sharpest of its depth when its blur is less than kSameDepth times that, or
// below kSharpAsCanBe (rank/policy.h).
SeveralSubjects several_subjects(const FrameFacts& facts);

}  // namespace burstsieve::rank
