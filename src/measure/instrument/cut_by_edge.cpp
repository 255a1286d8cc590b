// cut_by_edge, subject_size: does the frame cut the animal, and how large is it?
//
// cut_by_edge: fraction 0..1 of the animal's outline that lies on the frame's edge, from the cell mask.
// Cells on the edge count when they hold nearly as much detail as the rest
// of it: the mask spreads by a cell or two. subject_size: longer side of the subject's box as a fraction of
// the frame's width; confidence is the subject's own. Blind to: an animal that ends exactly
// at the edge; a mask that is itself wrong. Nothing without a mask.
#include <algorithm>
#include <array>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"cut_by_edge", "", 0, 1, "share of the subject's outline on the frame's edge"},
    MeasureSpec{"subject_size", "", 0, 1.5, "longer side of the subject against the frame's width"},
};

// Animal at the frame's edge has detail there; a mask that a blurred map spread to the edge has none.
constexpr double kAlive = .45;  // of the animal's mean amplitude

// Sides of animal cells that face no other animal cell, and those of them that face the world outside the
// frame and hold as much detail as an animal.
struct Outline {
  int sides = 0, on_edge = 0, touching = 0;
};

// Amplitude of detail under every cell of the mask, upright.
cv::Mat1f amplitude_under(const CellMask& mask, const PixelInput& input) {
  const auto floor = static_cast<float>(2 * image::quiet_level(*input.activity));
  cv::Mat signal = cv::max(image::upright(*input.activity, input.planes->orientation) - floor, 0);
  cv::sqrt(signal, signal);
  cv::Mat1f out;
  if (mask.where == Region{0, 0, 1, 1}) {
    cv::resize(signal, out, {mask.cols, mask.rows}, 0, 0, cv::INTER_AREA);
    return out;
  }
  cv::Mat1f x(mask.rows, mask.cols), y(mask.rows, mask.cols);
  for (int row = 0; row < mask.rows; ++row)
    for (int col = 0; col < mask.cols; ++col) {
      x(row, col) =
          static_cast<float>((mask.where.x + mask.where.w * (col + .5) / mask.cols) * signal.cols - .5);
      y(row, col) =
          static_cast<float>((mask.where.y + mask.where.h * (row + .5) / mask.rows) * signal.rows - .5);
    }
  cv::remap(signal, out, x, y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  return out;
}

// Which sides of the grid are the frame's own; a pixel's rounding apart.
struct FrameSides {
  bool left = false, right = false, top = false, bottom = false;
  explicit FrameSides(const Region& r)
      : left(r.x < 1e-6), right(r.right() > 1 - 1e-6), top(r.y < 1e-6), bottom(r.bottom() > 1 - 1e-6) {}
};

Outline outline_of(const CellMask& mask, const cv::Mat1f& amplitude) {
  double sum = 0;
  int cells = 0;
  for (int row = 0; row < mask.rows; ++row)
    for (int col = 0; col < mask.cols; ++col)
      if (mask.at(col, row)) sum += static_cast<double>(amplitude(row, col)), ++cells;
  const double alive = cells > 0 ? kAlive * sum / cells : 0;
  Outline out;
  const FrameSides edge(mask.where);
  const auto count = [&](int col, int row, bool detail) {
    const bool beyond = col < 0 || row < 0 || col >= mask.cols || row >= mask.rows;
    if (!beyond && mask.at(col, row)) return;
    const bool outside = (col < 0 && edge.left) || (row < 0 && edge.top) ||
                         (col >= mask.cols && edge.right) || (row >= mask.rows && edge.bottom);
    ++out.sides;
    out.touching += outside;
    out.on_edge += outside && detail;
  };
  for (int row = 0; row < mask.rows; ++row)
    for (int col = 0; col < mask.cols; ++col) {
      if (!mask.at(col, row)) continue;
      const bool detail = static_cast<double>(amplitude(row, col)) >= alive;
      count(col - 1, row, detail);
      count(col + 1, row, detail);
      count(col, row - 1, detail);
      count(col, row + 1, detail);
    }
  return out;
}

// Evidence, not yet how often it is right (measure/trust.h). A mask that keeps away from the edge is sure;
// one that touches it is blurred by a cell or two, and most such animals are whole.
double evidence_of(const Outline& o) {
  if (o.touching == 0) return .95;
  const double alive = static_cast<double>(o.on_edge) / o.touching;
  const double share = static_cast<double>(o.on_edge) / o.sides;
  if (share < .05) return .75 - .4 * alive;
  return .1 + .3 * std::clamp((alive - .3) / .7, 0.0, 1.0) * std::clamp((share - .05) / .1, 0.0, 1.0);
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const Region& b = input.subject.box;
  const double width = input.planes->upright_width(), height = input.planes->upright_height();
  if (b.empty() || width <= 0 || height <= 0) return;
  if (!input.mask.empty() && !input.activity->empty()) {
    const Outline outline = outline_of(input.mask, amplitude_under(input.mask, input));
    if (outline.sides > 0)
      out.push_back({"cut_by_edge", static_cast<double>(outline.on_edge) / outline.sides, "",
                     evidence_of(outline), input.planes->source});
  }
  out.push_back({"subject_size", std::clamp(std::max(b.w * width, b.h * height) / width, 0.0, 1.5), "",
                 input.subject.confidence, input.planes->source});
}

}  // namespace

extern const Instrument cut_by_edge{"cut_by_edge", kProduces, from_pixels, nullptr, true};

}  // namespace burstsieve::measure::instrument
