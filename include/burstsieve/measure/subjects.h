// Every subject of a frame by itself: two birds stand at two distances, and only one of them can be in the
// plane of focus.
#pragma once
#include <cstddef>
#include <functional>
#include <span>
#include <vector>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure {

// Each further subject costs about 8 ms (24 tiles of edges). More than four birds are a flock: which of them
// was meant nobody can tell.
inline constexpr std::size_t kMostSubjects = 4;
// Confidence from which a further subject is measured; the first always is. On the generated sets "several"
// and "season" candidates above it were animals in the share that docs/measures.md states.
inline constexpr double kTrustedSubject = .25;

struct Picture {
  const decode::Planes& planes;
  const cv::Mat& activity;  // image::activity_map(planes.luma)
  const Capture& capture;
  const FocusMap& focus;  // upright
};

// Where the edges that vouch for a subject are: its head or the focus area inside it; the whole box where
// those show too little; less of it where another plane of focus shows through. Empty without a box.
// mask: of the subject; empty when nothing is known of its outline.
Detail subject_detail(const Picture& picture, const Subject& subject, const CellMask& mask = {});

// The largest part of `box` that none of `others` covers: a rectangle left, right, above or below each.
// `box` itself when it stands free; empty when less than a fifth of it would be left.
Region free_of(const Region& box, std::span<const Subject> others);

// Fills Subject::measures of the first kMostSubjects that are trusted, by the instruments that are asked of
// each subject. What boxes better than its own cover of a subject is not asked: it may be the other one's.
// `outline`: the mask of a subject. Gives back the input of the first one, for measure_pixels(); it refers to
// `picture` and `subjects`. Precondition: not empty.
PixelInput measure_subjects(const Picture& picture, std::vector<Subject>& subjects,
                            const std::function<CellMask(const Subject&)>& outline);

}  // namespace burstsieve::measure
