// The animals that the neural detector sees. Blind to: see subject/detector.h.
#include <algorithm>

#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {
namespace {

// A bird of the median score of real ones, .58, counts as much as a focus area that lies well; one at the
// threshold, more than detail or motion alone. Another animal may be a bird that is taken for one, or bark:
// with a bird in the picture it stands back.
double trust_in(const Detection& d, bool beside_a_bird) {
  if (d.category == kBirdCategory) return .55 + .4 * d.confidence;
  return beside_a_bird ? .5 * d.confidence : .4 + .4 * d.confidence;
}

}  // namespace

void find_by_detector(const FinderInput& input, std::vector<Subject>& out) {
  if (input.detections == nullptr || input.detections->empty()) return;
  const bool birds = input.detections->front().category == kBirdCategory;  // birds come first
  for (const Detection& d : *input.detections)
    out.push_back({d.box, std::nullopt, std::clamp(trust_in(d, birds), 0.0, .95), kDetectorSource});
}

}  // namespace burstsieve::subject
