// What verdicts cost and save, against the truth.
#pragma once
#include <array>
#include <cstddef>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "burstsieve/model/outcome.h"
#include "truth.h"

namespace burstsieve::season_check {

struct Counts {
  std::size_t keep = 0, undecided = 0, reject = 0;
  void add(Verdict v) { ++(v == Verdict::keep ? keep : v == Verdict::reject ? reject : undecided); }
  std::size_t all() const { return keep + undecided + reject; }
};

struct Confusion {
  Counts best, ruined_best, ruined, other;  // best: of its pose and sound
  // Ruined frames of a posture of which no sound frame exists: nothing could stay for them.
  Counts ruined_alone;  // counted in ruined and ruined_best, too
  std::map<std::string, Counts> ruined_by_fault;
  std::size_t frames = 0, left = 0;  // left to look at: undecided
};

struct JudgedFrame {
  const TrueFrame* truth = nullptr;
  Verdict verdict = Verdict::undecided;
};
Confusion confusion(std::span<const JudgedFrame> frames);
// As a table of Markdown.
std::string table(const Confusion& c);

}  // namespace burstsieve::season_check
