// What the engine thinks of a frame, and why.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace burstsieve {

enum class Verdict { undecided, keep, reject };

const char* name_of(Verdict verdict);

// One measured fact behind a verdict.
struct Reason {
  std::string code;       // stable, for machines: "soft", "whites_clipped", "damaged"
  std::string text;       // for people, with the number, its unit and the limit
  double value = 0;       // the measured number
  std::string unit;       // of value and limit
  double limit = 0;       // what it was held against
  double confidence = 0;  // 0..1
  bool operator==(const Reason&) const = default;
};

struct FrameVerdict {
  Verdict verdict = Verdict::undecided;
  std::optional<int> rating;    // xmp:Rating to write: -1 or 1..5; nothing for undecided
  std::vector<Reason> reasons;  // the deciding one first
  int pose = 0;                 // pose group inside the burst, 1-based in order of appearance
  int place = 0;                // 1 = best of its pose group
  std::string better;           // for a reject: main file name of the look-alike that stays
  bool operator==(const FrameVerdict&) const = default;
};

}  // namespace burstsieve
