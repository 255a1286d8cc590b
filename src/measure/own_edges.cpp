#include "own_edges.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/subject/cut_out.h"

namespace burstsieve::measure {
namespace {

constexpr double kBesideOutline = 4;  // px, at least one cell
constexpr int kInside = 2;            // cells along the outline that may be the background's
constexpr int kFarthest = 6;          // cells
constexpr float kAlong = .8f;         // least cosine between the edge's gradient and the outline's

}  // namespace

OwnEdges::OwnEdges(const CellMask& mask, int orientation, cv::Size picture) {
  const Region where = as_sensor(mask.where, orientation);
  if (mask.empty() || mask.confidence < subject::kTrustedMask || where.empty() || picture.empty()) return;
  const bool swapped = swaps_sides(orientation);
  const cv::Size grid(swapped ? mask.rows : mask.cols, swapped ? mask.cols : mask.rows);
  left_ = where.x * picture.width;
  top_ = where.y * picture.height;
  cell_w_ = where.w * picture.width / grid.width;
  cell_h_ = where.h * picture.height / grid.height;
  const int reach = std::clamp(
      static_cast<int>(std::ceil(kBesideOutline / std::max(1e-6, std::min(cell_w_, cell_h_)))), 1, kFarthest);
  cv::Mat1b inside(grid);
  for (int y = 0; y < grid.height; ++y)
    for (int x = 0; x < grid.width; ++x) {
      const Region spot = upright({(x + .5) / grid.width, (y + .5) / grid.height, 0, 0}, orientation);
      inside(y, x) = mask.at(static_cast<int>(spot.x * mask.cols), static_cast<int>(spot.y * mask.rows));
    }
  const cv::Size stencil(2 * reach + 1, 2 * reach + 1);
  cv::Mat1b wide, deep;
  cv::dilate(inside, wide, cv::getStructuringElement(cv::MORPH_ELLIPSE, stencil));
  cv::erode(inside, deep, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kInside + 1, 2 * kInside + 1}));
  places_ = wide + inside + deep;
  cv::Mat1f soft, dx, dy;
  inside.convertTo(soft, CV_32F);
  cv::GaussianBlur(soft, soft, {}, .5 + reach);
  cv::Sobel(soft, dx, CV_32F, 1, 0, 3);
  cv::Sobel(soft, dy, CV_32F, 0, 1, 3);
  normals_.create(grid);
  for (int y = 0; y < grid.height; ++y)
    for (int x = 0; x < grid.width; ++x) {
      const float length = std::hypot(dx(y, x), dy(y, x));
      normals_(y, x) = length > 0 ? cv::Vec2f(dx(y, x) / length, dy(y, x) / length) : cv::Vec2f(0, 0);
    }
}

bool OwnEdges::cell_of(double x, double y, cv::Point& cell) const {
  const double col = std::floor((x - left_) / cell_w_), row = std::floor((y - top_) / cell_h_);
  if (!(col >= 0 && row >= 0 && col < places_.cols && row < places_.rows)) return false;
  cell = {static_cast<int>(col), static_cast<int>(row)};
  return true;
}

double OwnEdges::share_of(const cv::Rect& r) const {
  if (!known()) return 1;
  constexpr int kSide = 8;
  int held = 0;
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i < kSide; ++i) {
      cv::Point cell;
      held += cell_of(r.x + (i + .5) * r.width / kSide, r.y + (j + .5) * r.height / kSide, cell) &&
              places_(cell) >= 2;
    }
  return static_cast<double>(held) / (kSide * kSide);
}

bool OwnEdges::holds(double x, double y, float gx, float gy) const {
  if (!known()) return true;
  cv::Point cell;
  if (!cell_of(x, y, cell)) return false;
  if (places_(cell) == 0 || places_(cell) == 3) return places_(cell) == 3;
  const cv::Vec2f n = normals_(cell);
  return std::abs(gx * n[0] + gy * n[1]) >= kAlong * std::hypot(gx, gy);
}

}  // namespace burstsieve::measure
