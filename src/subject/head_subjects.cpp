#include "burstsieve/subject/head.h"

namespace burstsieve::subject {

HeadEvidence look_for_heads(const decode::Planes& planes, const Capture& capture,
                            const std::function<CellMask(const Subject&)>& outline,
                            std::vector<Subject>& subjects) {
  HeadEvidence first;
  for (std::size_t i = 0; i < subjects.size(); ++i) {
    Subject& s = subjects[i];
    HeadInput input{head_crop(planes, s.box), {}, s.box, std::nullopt};
    input.mask = mask_over(outline(s), input.crop.where, input.crop.bgr.size());
    if (capture.af) input.af = capture.af->box;
    HeadFinding found = find_head(input);
    s.head_view = found.view;
    s.head_confidence = found.confidence;
    s.head.reset();
    if (found.view == HeadView::visible) s.head = found.head;
    if (i == 0) first = std::move(found.evidence);
  }
  return first;
}

void settle_head(const HeadJudgement& judged, Subject& subject) {
  subject.head_view = judged.view;
  subject.head_confidence = judged.confidence;
}

}  // namespace burstsieve::subject
