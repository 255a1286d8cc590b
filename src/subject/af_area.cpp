// What the camera focused on, grown to the detail that it sits in: an AF area is a point on the animal, not
// its outline. Blind to: an AF area that the camera left on the background.
#include <algorithm>
#include <cmath>

#include "burstsieve/subject/finder.h"
#include "energy_map.h"

namespace burstsieve::subject {
namespace {

bool near(const Region& box, double x, double y, double slack) {
  return x >= box.x - slack && x <= box.right() + slack && y >= box.y - slack && y <= box.bottom() + slack;
}

}  // namespace

void find_by_af_area(const FinderInput& input, std::vector<Subject>& out) {
  const auto& af = input.capture->af;
  if (!af || af->box.empty()) return;
  const double x = af->box.centre_x(), y = af->box.centre_y();
  const cv::Mat map = energy_map(*input.activity);
  // From strict to loose: the first threshold whose blob around the AF area has an animal's size.
  for (const double threshold : {.30, .20, .12}) {
    for (const Blob& blob : blobs(map, threshold)) {
      if (!near(blob.box, x, y, .03) || blob.box.area() < 2e-4) continue;
      const bool plausible = blob.box.area() < .6;
      if (!plausible) continue;
      out.push_back(
          {grown(blob.box, 1.08), std::nullopt, std::clamp(.45 + .4 * af->confidence, 0.0, .85), "AF area"});
      return;
    }
  }
  // No detail there: the area itself, as wide as a bird that would be worth a frame.
  Region box = grown(af->box, 1.5);
  if (box.w < .12) box = clamped({x - .06, box.y, .12, box.h});
  if (box.h < .12) box = clamped({box.x, y - .06, box.w, .12});
  out.push_back({box, std::nullopt, .3 + .2 * af->confidence, "AF area"});
}

}  // namespace burstsieve::subject
