// What the camera focused on, grown to the detail that it sits in: an AF area is a point on the animal, not
// its outline. Blind to: an AF area that the camera left on the background.
#include <algorithm>
#include <cmath>

#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {
void find_by_af_area(const FinderInput& input, std::vector<Subject>& out) {
  const auto& af = input.capture->af;
  if (!af || af->box.empty()) return;
  const double x = af->box.centre_x(), y = af->box.centre_y();
  // An animal that is seen there: its outline. The camera may have focused on a feather at its edge.
  if (input.detections)
    for (const Detection& d : *input.detections) {
      const Region near = grown(d.box, 1.1);
      if (x < near.x || x > near.right() || y < near.y || y > near.bottom()) continue;
      out.push_back({d.box, std::nullopt, std::clamp(.55 + .3 * af->confidence, 0.0, .85), "AF area"});
      return;
    }
  const cv::Mat& map = *input.energy;
  const StableBox found = stable_box(map, x, y);
  if (!found.box.empty()) {
    const double confidence = .35 + .35 * af->confidence + .2 * found.stability;
    out.push_back({grown(found.box, 1.08), std::nullopt, std::clamp(confidence, 0.0, .85), "AF area"});
    return;
  }
  // No detail there: the area itself, as wide as a bird that would be worth a frame.
  Region box = grown(af->box, 1.5);
  if (box.w < .12) box = clamped({x - .06, box.y, .12, box.h});
  if (box.h < .12) box = clamped({box.x, y - .06, box.w, .12});
  out.push_back({box, std::nullopt, .3 + .2 * af->confidence, "AF area"});
}

Region region_that_must_be_sharp(const Subject& subject, const Capture& capture) {
  // A skull alone holds few edges that stand free; with bill and throat, as around a focus area on the head,
  // enough. Alone it read sharp gulls of the sample bursts half as soft again.
  if (subject.head) return grown(*subject.head, 1.6);
  if (!capture.af) return subject.box;
  const Region around = grown(capture.af->box, 1.6);
  const double x = capture.af->box.centre_x(), y = capture.af->box.centre_y();
  const Region& b = subject.box;
  const bool inside = x >= b.x && x <= b.right() && y >= b.y && y <= b.bottom();
  // A wide AF zone says no more than the box does.
  return inside && around.area() < .4 * b.area() ? around : b;
}

}  // namespace burstsieve::subject
