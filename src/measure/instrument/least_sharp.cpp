// least_sharp_px, subject_count: of several animals in the frame, how soft is the softest?
//
// least_sharp_px: blur_sigma_px (full-size pixels, lower is sharper) of the least sharp subject that counts.
// Confidence: that of its blur times that of its being an animal at all. subject_count: how many subjects
// count: found with confidence .25 and more (the first with any), at most 4, and with a blur, however unsure:
// a soft bird shows few edges, and leaving it out would name the wrong one. Where one that was looked at has
// no blur it may be the softest: half the confidence. Confidence of the count: the least of theirs. Input:
// the measures of every subject (measure/subjects.h). Nothing where no subject's blur is known. Names only: a
// photographer may have meant one bird and let the other go soft, so no verdict uses it. Blind to: animals
// that no finder saw; candidates that are none.
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"least_sharp_px", "px", 0, 64, "blur of the least sharp of the subjects"},
    MeasureSpec{"subject_count", "", 1, 4, "subjects whose blur counts"},
};

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Measure* least = nullptr;
  double sure = 0, all_sure = 1;
  int count = 0;
  bool all_known = true;
  for (const Subject& s : input.subjects) {
    const Measure* blur = find(s.measures, "blur_sigma_px");
    if (!blur) {
      all_known = all_known && s.measures.empty();
      continue;
    }
    ++count;
    all_sure = std::min(all_sure, s.confidence);
    if (least && blur->value <= least->value) continue;
    least = blur;
    sure = s.confidence * blur->confidence;
  }
  if (!least) return;
  out.push_back({"least_sharp_px", least->value, "px", all_known ? sure : sure / 2, least->basis});
  out.push_back({"subject_count", static_cast<double>(count), "", all_sure, least->basis});
}

}  // namespace

extern const Instrument least_sharp{"least_sharp", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
