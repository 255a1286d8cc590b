// The animals that the neural detector sees. Blind to: see subject/detector.h.
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>

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

// Two decimals as a person writes them: .72
std::string score(double value) {
  const int hundredths = std::clamp(static_cast<int>(std::lround(value * 100)), 0, 100);
  if (hundredths == 100) return "1";
  return "." + std::to_string(hundredths / 10) + std::to_string(hundredths % 10);
}

std::string in_words(const Detection& d) {
  const std::string kind = d.category == kBirdCategory ? "bird" : "animal";
  switch (d.sight) {
    case Sight::whole:
      break;
    case Sight::closer:
      return kind + " seen by the detector on a closer look (" + score(d.confidence) + ")";
    case Sight::followed:
      return kind + " seen by the detector in an earlier frame (" + score(d.confidence) +
             ") and followed to here (" + score(d.track) + ")";
  }
  return kind + " seen by the detector (" + score(d.confidence) + ")";
}

}  // namespace

void find_by_detector(const FinderInput& input, std::vector<Subject>& out) {
  if (input.detections == nullptr || input.detections->empty()) return;
  const bool birds = input.detections->front().category == kBirdCategory;  // birds come first
  for (const Detection& d : *input.detections) {
    Subject s{d.box, std::nullopt, std::clamp(trust_in(d, birds), 0.0, .95), kDetectorSource};
    s.why = in_words(d);
    out.push_back(std::move(s));
  }
}

}  // namespace burstsieve::subject
