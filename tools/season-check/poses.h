// How well pose groups agree with the truth.
#pragma once
#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace burstsieve::season_check {

// Adjusted Rand index of two labellings of the same things (Hubert & Arabie, "Comparing partitions", Journal
// of Classification 2, 1985; formula from memory): 1 for the same partition, 0 on average for chance. 1 where
// both put everything together or everything apart. Same length.
double adjusted_rand_index(std::span<const int> a, std::span<const int> b);

// One burst: its frames' groups and true postures.
struct Labelled {
  std::vector<int> groups;
  std::vector<std::string> poses;
};

struct PoseAgreement {
  double mean_index = 0;    // over bursts with two frames or more
  double pooled_index = 0;  // of all frames of all bursts, groups of different bursts apart
  // Of pairs of frames inside a burst:
  std::size_t together = 0, together_right = 0;  // put into one group; of those in one posture
  std::size_t same = 0, same_found = 0;          // truly of one posture; of those put together
};
PoseAgreement agreement(std::span<const Labelled> bursts);

}  // namespace burstsieve::season_check
