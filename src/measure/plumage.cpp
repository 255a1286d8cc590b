#include "plumage.h"

#include <algorithm>
#include <cmath>

#include "burstsieve/image/transfer.h"

namespace burstsieve::measure {
namespace {

// Of the clip. White plumage reflects .6 to .9 (common practice, no source); metered at mid grey it lies 1.7
// to 2.3 stops over it, and grey 2.96 stops under the clip (ISO 12232 by ANCHORS), so .25 takes in plumage a
// stop darker.
constexpr double kBright = .25;
// Neutral after white balance: channels within a third of a stop of each other.
constexpr double kNeutralRatio = 1.26;

}  // namespace

WhiteSite white_site(const std::array<double, 3>& level, const std::array<double, 3>& gain) {
  WhiteSite out;
  double low = 1e9, high = 0;
  for (std::size_t c = 0; c < 3; ++c) {
    out.clipped[c] = level[c] >= kClip;
    if (out.clipped[c]) continue;  // its true value is unknown, only that it is at least this
    low = std::min(low, level[c] * gain[c]);
    high = std::max(high, level[c] * gain[c]);
  }
  const int clipped = out.clipped_channels();
  out.white = clipped == 3 || (high <= low * kNeutralRatio && low >= (clipped > 0 ? 2 * kBright : kBright));
  return out;
}

cv::Rect picture_of(const decode::Mosaic& m) {
  return m.picture.empty() ? cv::Rect(0, 0, m.sensor_width, m.sensor_height) : m.picture;
}

Outline::Outline(const CellMask& mask, int orientation, const cv::Rect& picture) : picture_(picture) {
  const int width = picture.width, height = picture.height;
  if (mask.empty() || width <= 0 || height <= 0) return;
  const bool swapped = swaps_sides(orientation);
  const Region where = as_sensor(mask.where, orientation);
  if (where.empty()) return;
  cells_.create(swapped ? mask.cols : mask.rows, swapped ? mask.rows : mask.cols);
  for (int y = 0; y < cells_.rows; ++y)
    for (int x = 0; x < cells_.cols; ++x) {
      // Of the grid itself, which turns as the frame does.
      const Region spot = upright({(x + .5) / cells_.cols, (y + .5) / cells_.rows, 0, 0}, orientation);
      cells_(y, x) = mask.at(static_cast<int>(spot.x * mask.cols), static_cast<int>(spot.y * mask.rows));
    }
  const auto cell_at = [](double share, int cells) {
    const double cell = std::floor(share * cells);
    return cell >= 0 && cell < cells ? static_cast<int>(cell) : -1;
  };
  for (int x = 0; x < width; ++x)
    col_.push_back(cell_at(((x + .5) / width - where.x) / where.w, cells_.cols));
  for (int y = 0; y < height; ++y)
    row_.push_back(cell_at(((y + .5) / height - where.y) / where.h, cells_.rows));
}

Blocks::Blocks(const decode::Mosaic& mosaic) : mosaic_(mosaic) {
  side_ = mosaic.cfa_side == 2 ? 2 : 3;
  repeat_ = mosaic.cfa_side == 2 ? 1 : 2;
  for (std::size_t c = 0; c < 3; ++c) {
    const double range = mosaic.white[c] - mosaic.black[c];
    if (!(range > 0) || !std::isfinite(range) || !(mosaic.as_shot_gain[c] > 0)) return;
    scale_[c] = 1 / range;
  }
  for (int p = 0; p < repeat_ * repeat_; ++p) {
    Phase& phase = phases_[static_cast<std::size_t>(p)];
    std::array<int, 3> count{};
    for (int k = 0; k < side_ * side_; ++k) {
      const auto c = static_cast<std::size_t>(
          mosaic.colour_at(p / repeat_ * side_ + k / side_, p % repeat_ * side_ + k % side_));
      if (c > 2) return;
      phase.colour[static_cast<std::size_t>(k)] = static_cast<std::uint8_t>(c);
      ++count[c];
    }
    for (std::size_t c = 0; c < 3; ++c) {
      if (count[c] == 0) return;
      phase.share[c] = 1.0 / count[c];
    }
  }
  usable_ = true;
}

std::array<double, 3> RenderedLevels::at(int y, int x) const {
  const decode::Planes& p = planes_;
  double cb = 0, cr = 0;
  if (!p.cb.empty() && !p.cr.empty()) {
    const auto place = [](int v, int from, int to) {
      return std::min(to - 1, static_cast<int>(static_cast<std::int64_t>(v) * to / from));
    };
    const int cy = place(y, p.luma.rows, p.cb.rows), cx = place(x, p.luma.cols, p.cb.cols);
    cb = p.cb.at<std::uint8_t>(cy, cx) - 128;
    cr = p.cr.at<std::uint8_t>(cy, cx) - 128;
  }
  const double luma = p.luma.at<std::uint8_t>(y, x);
  // JFIF 1.02 p. 3 (from memory): full-range BT.601.
  const std::array<double, 3> rgb{luma + 1.402 * cr, luma - .344136 * cb - .714136 * cr, luma + 1.772 * cb};
  const auto& linear = image::linear_of_code();
  std::array<double, 3> out{};
  for (std::size_t c = 0; c < 3; ++c)
    out[c] = linear[static_cast<std::size_t>(std::clamp(std::lround(rgb[c]), 0L, 255L))];
  return out;
}

cv::Rect pixels_under(const decode::Planes& p, const Region& region) {
  const Region r = clamped(as_sensor(region, p.orientation));
  if (r.empty() || p.luma.empty()) return {};
  const cv::Point from(static_cast<int>(r.x * p.luma.cols), static_cast<int>(r.y * p.luma.rows));
  const cv::Point to(static_cast<int>(std::ceil(r.right() * p.luma.cols)),
                     static_cast<int>(std::ceil(r.bottom() * p.luma.rows)));
  return cv::Rect(from, to) & cv::Rect(0, 0, p.luma.cols, p.luma.rows);
}

}  // namespace burstsieve::measure
