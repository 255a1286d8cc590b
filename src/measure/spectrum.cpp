#include "burstsieve/measure/spectrum.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/transfer.h"

namespace burstsieve::measure {
namespace {

constexpr int kCell = image::kActivityCell;
constexpr int kLargeSide = 256, kSmallSide = 128;                   // px
constexpr double kLeastArea = 48.0 * 48, kLargeArea = 150.0 * 150;  // px^2

cv::Rect cells_of(const cv::Mat& map, const Region& sensor_region) {
  const Region r = clamped(sensor_region);
  const int x0 = static_cast<int>(r.x * map.cols), y0 = static_cast<int>(r.y * map.rows);
  const int x1 = static_cast<int>(std::ceil(r.right() * map.cols)),
            y1 = static_cast<int>(std::ceil(r.bottom() * map.rows));
  return cv::Rect(x0, y0, std::max(1, x1 - x0), std::max(1, y1 - y0)) & cv::Rect(0, 0, map.cols, map.rows);
}

// Soft rims keep the window's own spectrum narrow.
void soften(cv::Mat& weights) {
  cv::GaussianBlur(weights, weights, {5, 5}, 1.0, 1.0, cv::BORDER_REPLICATE);
}

struct Window {
  int x = 0, y = 0, side = 0;
  double score = 0;
};

// Sum of activity under the weights, by window; those with the most detail first, no two of them overlapping
// by more than half.
std::vector<Window> best_windows(const cv::Mat& activity, const cv::Mat& weights, int side, int count,
                                 cv::Size frame) {
  cv::Mat detail;
  // The square root: one glint must not pull the window away from the rest of the animal.
  cv::sqrt(cv::max(activity, 0), detail);
  detail = detail.mul(weights);
  cv::Mat sums;
  cv::integral(detail, sums, CV_64F);
  const int span = side / kCell, step = std::max(1, span / 4);
  std::vector<Window> all;
  const int last_x = std::max(0, activity.cols - span), last_y = std::max(0, activity.rows - span);
  for (int cy = 0; cy <= last_y; cy += step)
    for (int cx = 0; cx <= last_x; cx += step) {
      const int ex = std::min(activity.cols, cx + span), ey = std::min(activity.rows, cy + span);
      const double score = sums.at<double>(ey, ex) - sums.at<double>(cy, ex) - sums.at<double>(ey, cx) +
                           sums.at<double>(cy, cx);
      if (score <= 0) continue;
      all.push_back({std::clamp(cx * kCell, 0, std::max(0, frame.width - side)),
                     std::clamp(cy * kCell, 0, std::max(0, frame.height - side)), side, score});
    }
  std::stable_sort(all.begin(), all.end(),
                   [](const Window& a, const Window& b) { return a.score > b.score; });
  std::vector<Window> out;
  for (const Window& w : all) {
    if (static_cast<int>(out.size()) >= count || w.score < .3 * all.front().score) break;
    const bool apart = std::all_of(out.begin(), out.end(), [&](const Window& o) {
      return std::max(std::abs(o.x - w.x), std::abs(o.y - w.y)) >= side / 2;
    });
    if (apart) out.push_back(w);
  }
  return out;
}

const cv::Mat& hann(int side) {
  static const auto make = [](int n) {
    cv::Mat line(1, n, CV_32F);
    for (int i = 0; i < n; ++i)
      line.at<float>(i) = static_cast<float>(.5 - .5 * std::cos(2 * std::numbers::pi * (i + .5) / n));
    return cv::Mat(line.t() * line);
  };
  static const cv::Mat large = make(kLargeSide), small = make(kSmallSide);
  return side == kLargeSide ? large : small;
}

// The window's pixels, scene-linear, mirrored where the frame is smaller.
cv::Mat pixels_of(const cv::Mat& luma, const Window& w) {
  const cv::Rect want(w.x, w.y, w.side, w.side), have = want & cv::Rect(0, 0, luma.cols, luma.rows);
  cv::Mat block = luma(have);
  if (have != want)
    cv::copyMakeBorder(luma(have), block, 0, want.br().y - have.br().y, 0, want.br().x - have.br().x,
                       cv::BORDER_REFLECT_101 | cv::BORDER_ISOLATED);
  return image::linear(block);
}

cv::Mat taper_of(const cv::Mat& weights, const Window& w) {
  cv::Mat out;
  const cv::Matx23f map(1.0f / kCell, 0, static_cast<float>(w.x + .5) / kCell - .5f, 0, 1.0f / kCell,
                        static_cast<float>(w.y + .5) / kCell - .5f);
  cv::warpAffine(weights, out, map, {w.side, w.side}, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                 cv::BORDER_CONSTANT, 0);
  return out.mul(hann(w.side));
}

// Log of |FFT|^2 over the half plane, rows as cv::dft leaves them (negative frequencies in the lower half).
cv::Mat log_power_of(const cv::Mat& pixels, const cv::Mat& taper) {
  const double total = cv::sum(taper)[0];
  const double mean = cv::sum(pixels.mul(taper))[0] / std::max(1e-9, total);
  cv::Mat tapered = (pixels - mean).mul(taper), spectrum;
  cv::dft(tapered, spectrum, cv::DFT_COMPLEX_OUTPUT);
  std::array<cv::Mat, 2> parts;
  cv::split(spectrum.colRange(0, pixels.cols / 2 + 1), parts.data());
  cv::Mat power = parts[0].mul(parts[0]) + parts[1].mul(parts[1]), out;
  const double energy = cv::sum(taper.mul(taper))[0];
  // The mean of nine neighbours: the logarithm of one alone has a long tail downwards.
  cv::blur(power, power, {3, 3}, {-1, -1}, cv::BORDER_REFLECT_101);
  // What rounding to 8 bits leaves, so that a flat picture has a flat spectrum.
  constexpr double kRounding = 5e-7;
  cv::log(power / std::max(1e-9, energy) + kRounding, out);
  return out;
}

// How much of an activity cell is the animal's, by nine places in it: the mask may be finer than the cells.
float share_in(const CellMask& mask, int x, int y, cv::Size cells, int orientation) {
  int held = 0;
  for (int k = 0; k < 9; ++k) {
    const Region seen = upright(
        {(x + (k % 3 + .5) / 3) / cells.width, (y + (k / 3 + .5) / 3) / cells.height, 0, 0}, orientation);
    held += mask.holds(seen.x, seen.y);
  }
  return static_cast<float>(held) / 9;
}

}  // namespace

cv::Mat subject_cells(const cv::Mat& activity, int orientation, const Region& box, const CellMask& mask) {
  cv::Mat out = cv::Mat::zeros(activity.size(), CV_32F);
  const cv::Rect area = cells_of(activity, as_sensor(box, orientation));
  if (area.empty()) return out;
  for (int y = area.y; y < area.br().y; ++y)
    for (int x = area.x; x < area.br().x; ++x) {
      float inside = 1;
      if (!mask.empty()) {
        inside = share_in(mask, x, y, activity.size(), orientation);
      } else {  // an animal's outline is rounder than its box, and what lies behind it must not vouch for it
        const double dx = (x + .5 - area.x - area.width / 2.0) / (area.width / 2.0),
                     dy = (y + .5 - area.y - area.height / 2.0) / (area.height / 2.0);
        inside = dx * dx + dy * dy <= .6 ? 1 : 0;
      }
      out.at<float>(y, x) = inside;
    }
  soften(out);
  return out;
}

cv::Mat background_cells(const cv::Mat& activity, int orientation, const Region& box) {
  cv::Mat out(activity.size(), CV_32F, cv::Scalar(1));
  const cv::Rect area = cells_of(activity, as_sensor(box, orientation));
  // What streaks reaches beyond its box, and a glow of the subject's edge too.
  const int mx = 2 + area.width / 8, my = 2 + area.height / 8;
  const cv::Rect wide = cv::Rect(area.x - mx, area.y - my, area.width + 2 * mx, area.height + 2 * my) &
                        cv::Rect(0, 0, out.cols, out.rows);
  if (!wide.empty()) out(wide).setTo(0);
  soften(out);
  return out;
}

Spectrum spectrum_of(const cv::Mat& luma, const cv::Mat& activity, const cv::Mat& cells, int windows) {
  Spectrum out;
  if (luma.empty() || cells.empty() || luma.cols < 32 || luma.rows < 32) return out;
  const double area = cv::sum(cells)[0] * kCell * kCell;  // px
  if (area < kLeastArea) return out;
  const int side = area >= kLargeArea ? kLargeSide : kSmallSide;
  cv::Mat sum;
  double width = 0;
  const auto chosen = best_windows(activity, cells, side, windows, luma.size());
  for (const Window& w : chosen) {
    const cv::Mat taper = taper_of(cells, w);
    const double weight = cv::sum(taper)[0], square = cv::sum(taper.mul(taper))[0];
    if (!(square > 0)) continue;
    const cv::Mat log_power = log_power_of(pixels_of(luma, w), taper);
    sum = sum.empty() ? log_power : cv::Mat(sum + log_power);
    // A square window of this side has as broad a spectrum.
    width += std::sqrt(weight * weight / square);
    ++out.windows;
  }
  if (out.windows == 0) return out;
  const Window& top = chosen.front();
  out.place = clamped({static_cast<double>(top.x) / luma.cols, static_cast<double>(top.y) / luma.rows,
                       static_cast<double>(top.side) / luma.cols, static_cast<double>(top.side) / luma.rows});
  out.log_power = sum / out.windows;
  out.width = width / out.windows;
  return out;
}

}  // namespace burstsieve::measure
