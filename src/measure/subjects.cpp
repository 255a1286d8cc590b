#include "burstsieve/measure/subjects.h"

#include <algorithm>
#include <array>
#include <utility>

#include "burstsieve/measure/trust.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::measure {
namespace {

// Confidence of an edge measurement below which a larger region is tried.
constexpr double kTrusted = .5;
// Confidence from which it may at least object, and by what ratio of blur.
constexpr double kHint = .1;
constexpr double kSofter = 1.6;
// Of a box: what is left of it beside other subjects must be as much.
constexpr double kEnough = .2;

Region between(double x0, double y0, double x1, double y1) {
  return {x0, y0, std::max(0.0, x1 - x0), std::max(0.0, y1 - y0)};
}

Region largest_beside(const Region& box, const Region& other) {
  const double x0 = std::max(box.x, other.x), x1 = std::min(box.right(), other.right());
  const double y0 = std::max(box.y, other.y), y1 = std::min(box.bottom(), other.bottom());
  if (x1 <= x0 || y1 <= y0) return box;
  const std::array parts{
      between(box.x, box.y, x0, box.bottom()), between(x1, box.y, box.right(), box.bottom()),
      between(box.x, box.y, box.right(), y0), between(box.x, y1, box.right(), box.bottom())};
  return *std::max_element(parts.begin(), parts.end(),
                           [](const Region& a, const Region& b) { return a.area() < b.area(); });
}

}  // namespace

Detail subject_detail(const Picture& picture, const Subject& subject, const CellMask& mask) {
  const auto detail_of = [&](const Region& region) {
    return gather_detail(picture.planes.luma, picture.activity, picture.planes.orientation, region, &mask);
  };
  const Region must = subject::region_that_must_be_sharp(subject, picture.capture);
  Detail out = detail_of(must);
  // Too few edges there (a plain breast, a far bird): the strongest detail of the whole subject has to do,
  // unless what little was seen there is soft. Then something else in the box is in focus, and must not vouch
  // for the head.
  const auto first = edge_blur(out);
  if (first.confidence < kTrusted && !(must == subject.box)) {
    auto whole = detail_of(subject.box);
    const bool head_softer = first.confidence >= kHint && first.sigma > kSofter * edge_blur(whole).sigma;
    if (!head_softer) out = std::move(whole);
  }
  // Nobody said where the head is, and something nearer or farther is sharp in the subject's box: it must not
  // vouch for the subject.
  if (must == subject.box) {
    const auto plane = focus_plane(picture.focus, subject.box);
    const bool other = plane.side == FocusSide::before || plane.side == FocusSide::behind;
    if (other && plane.confidence >= kTrusted && !plane.clear.empty()) {
      auto clear = detail_of(plane.clear);
      const auto in_clear = edge_blur(clear);
      if (in_clear.confidence >= kHint && in_clear.sigma > kSofter * edge_blur(out).sigma)
        out = std::move(clear);
    }
  }
  return out;
}

Region free_of(const Region& box, std::span<const Subject> others) {
  Region out = box;
  for (const Subject& other : others) out = largest_beside(out, other.box);
  return out.area() >= kEnough * box.area() ? out : Region{};
}

PixelInput measure_subjects(const Picture& picture, std::vector<Subject>& subjects,
                            const std::function<CellMask(const Subject&)>& outline) {
  PixelInput first;
  for (std::size_t i = 0; i < std::min(subjects.size(), kMostSubjects); ++i) {
    Subject& s = subjects[i];
    if (i > 0 && s.confidence < kTrustedSubject) continue;
    PixelInput input{&picture.planes, &picture.activity, &picture.capture, s, outline(s), {}, &picture.focus};
    Subject free = s;
    free.box = free_of(s.box, std::span<const Subject>(subjects).first(i));
    if (free.box != s.box) free.head.reset();
    if (!free.box.empty()) input.detail = subject_detail(picture, free, input.mask);
    for (const Instrument* instrument : instruments())
      if (instrument->each_subject) instrument->from_pixels(input, s.measures);
    calibrate(s.measures, 0);
    if (i == 0) first = std::move(input);
  }
  first.subject = subjects.front();
  first.subjects = subjects;
  return first;
}

}  // namespace burstsieve::measure
