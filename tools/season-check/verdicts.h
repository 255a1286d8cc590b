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
  // Postures with a sound frame, and those of which a sound frame is kept that is as good as the best: total
  // blur within a tenth of it.
  std::size_t postures = 0, best_or_equal_kept = 0;
  std::size_t frames = 0, spare = 0;
  std::size_t left = 0;  // to look at: undecided, and not spare
};

struct JudgedFrame {
  const TrueFrame* truth = nullptr;
  Verdict verdict = Verdict::undecided;
  bool spare = false;
  int group = 0;  // of its burst
};
Confusion confusion(std::span<const JudgedFrame> frames);
// As a table of Markdown.
std::string table(const Confusion& c);

}  // namespace burstsieve::season_check
