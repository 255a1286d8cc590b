// cut_by_edge, subject_size: does the frame cut the animal, and how large is it?
//
// cut_by_edge: fraction 0..1 of the outline of the subject's box that lies on the frame's edge. subject_size:
// longer side of the box as a fraction of the frame's width. Input: the subject's box only; confidence is the
// subject's own. Blind to: an animal that ends exactly at the edge; a box that is itself wrong.
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"cut_by_edge", "", 0, 1, "share of the subject's outline on the frame's edge"},
    MeasureSpec{"subject_size", "", 0, 1.5, "longer side of the subject against the frame's width"},
};

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Region& b = input.subject.box;
  const double width = input.planes->upright_width(), height = input.planes->upright_height();
  if (b.empty() || width <= 0 || height <= 0) return;
  constexpr double kEdge = .004;  // half a cell of the focus map on a 6000 px frame
  double on_edge = 0;
  if (b.x <= kEdge) on_edge += b.h * height;
  if (b.right() >= 1 - kEdge) on_edge += b.h * height;
  if (b.y <= kEdge) on_edge += b.w * width;
  if (b.bottom() >= 1 - kEdge) on_edge += b.w * width;
  const double outline = 2 * (b.w * width + b.h * height);
  const double confidence = input.subject.confidence;
  out.push_back(
      {"cut_by_edge", std::clamp(on_edge / outline, 0.0, 1.0), "", confidence, input.planes->source});
  out.push_back({"subject_size", std::clamp(std::max(b.w * width, b.h * height) / width, 0.0, 1.5), "",
                 confidence, input.planes->source});
}

}  // namespace

extern const Instrument cut_by_edge{"cut_by_edge", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
