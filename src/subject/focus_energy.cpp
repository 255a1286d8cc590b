// The place with the most fine detail, near the centre rather than at the rim. Blind to: an in-focus reed bed
// or rippled water behind a soft bird.
#include <algorithm>
#include <cmath>

#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {

void find_by_focus_energy(const FinderInput& input, std::vector<Subject>& out) {
  cv::Mat map = input.energy->clone();
  if (map.empty()) return;
  for (int y = 0; y < map.rows; ++y)
    for (int x = 0; x < map.cols; ++x) {
      const double dx = (x + .5) / map.cols - .5, dy = (y + .5) / map.rows - .5;
      map.at<float>(y, x) *= static_cast<float>(std::exp(-(dx * dx + dy * dy) / (2 * .30 * .30)));
    }
  double top = 0;
  cv::minMaxLoc(map, nullptr, &top);
  if (!(top > 0)) return;
  map /= top;
  int taken = 0;
  for (const Blob& blob : blobs(map, .4)) {
    const StableBox found = stable_box(map, blob.peak.x, blob.peak.y);
    if (found.box.empty()) continue;
    // A blob that fills the frame is a textured background; one that holds most of the detail stands out.
    const double spread = std::clamp(1 - found.box.area(), 0.0, 1.0);
    const double confidence = (.35 * blob.solidity + .35 * found.stability) * spread;
    out.push_back({grown(found.box, 1.08), std::nullopt, std::clamp(confidence, .05, .6), "focus energy"});
    if (++taken == 3) break;
  }
}

}  // namespace burstsieve::subject
