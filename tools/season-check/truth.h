// What burstsieve-generate states about its frames (truth.json), as far as verdicts are held against it.
#pragma once
#include <map>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/region.h"

namespace burstsieve::season_check {

struct TrueFrame {
  std::string burst;  // its name
  std::string pose;   // posture, inside the burst
  bool ruined = false, best_of_pose = false;
  std::vector<std::string> faults;
  double blur_sigma_px = 0, motion_px = 0;
  std::string motion_of;
  double whites_lost =
      0;  // of the white plumage, clipped in two channels or more (the second of the three shares)
  double cut_by_edge = 0;
  bool head_visible = true;
  Region subject;
};

// By every file's path relative to the folder.
using Truth = std::map<std::string, TrueFrame>;

// Reads FOLDER/truth.json. Cause::io, or corrupt where it is not what the generator writes.
Result<Truth> read_truth(const std::string& folder);

// The entry of a file named by any path that ends with one of the truth's; null for none.
const TrueFrame* true_frame(const Truth& truth, const std::string& folder, const std::string& path);

}  // namespace burstsieve::season_check
