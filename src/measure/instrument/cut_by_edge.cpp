// cut_by_edge, subject_size: does the frame cut the animal, and how large is it?
//
// cut_by_edge: fraction 0..1 of the animal's outline that lies on the frame's edge, from the cell mask.
// subject_size: longer side of the subject's box as a fraction of the frame's width. Confidence is the
// subject's own, less for the coarse cells (1 % of the frame's width). Blind to: an animal that ends exactly
// at the edge; a mask that is itself wrong. Nothing without a mask.
#include <algorithm>
#include <array>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"cut_by_edge", "", 0, 1, "share of the subject's outline on the frame's edge"},
    MeasureSpec{"subject_size", "", 0, 1.5, "longer side of the subject against the frame's width"},
};

// Sides of animal cells that face no other animal cell, and those of them that face the world outside the
// frame.
struct Outline {
  int sides = 0, on_edge = 0;
};

Outline outline_of(const CellMask& mask) {
  Outline out;
  const auto count = [&](int col, int row) {
    const bool outside = col < 0 || row < 0 || col >= mask.cols || row >= mask.rows;
    if (!outside && mask.at(col, row)) return;
    ++out.sides;
    out.on_edge += outside;
  };
  for (int row = 0; row < mask.rows; ++row)
    for (int col = 0; col < mask.cols; ++col) {
      if (!mask.at(col, row)) continue;
      count(col - 1, row);
      count(col + 1, row);
      count(col, row - 1);
      count(col, row + 1);
    }
  return out;
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Region& b = input.subject.box;
  const double width = input.planes->upright_width(), height = input.planes->upright_height();
  if (b.empty() || width <= 0 || height <= 0) return;
  const Outline outline = outline_of(input.mask);
  if (outline.sides > 0) {
    const double share = static_cast<double>(outline.on_edge) / outline.sides;
    // The mask is blurred by a cell or two: a wing tip near the edge seems to touch it over up to a tenth of
    // the outline.
    const double clear = std::clamp((share - .05) / .15, .3, .95);
    out.push_back({"cut_by_edge", share, "", clear * input.subject.confidence, input.planes->source});
  }
  out.push_back({"subject_size", std::clamp(std::max(b.w * width, b.h * height) / width, 0.0, 1.5), "",
                 input.subject.confidence, input.planes->source});
}

}  // namespace

extern const Instrument cut_by_edge{"cut_by_edge", kProduces, from_pixels, nullptr, true};

}  // namespace burstsieve::measure::instrument
