#include "print.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace burstsieve::group {
namespace {

constexpr int kTileSide = 64;
constexpr int kCells =
    20;  // of the tile: at 20 postures are told apart as well as at 32, in a third of the time
// Of a tile pixel: the lines of a soft frame must meet those of a sharp one.
constexpr double kSmooth = 1.8;
constexpr int kCanvasCells = kPrintSide * kPrintSide;

using Layers = std::array<cv::Mat1f, kPrintLayers>;

float median_of_rim(const cv::Mat1f& tile) {
  std::vector<float> rim;
  for (int i = 0; i < kTileSide; ++i)
    for (const float v : {tile(0, i), tile(kTileSide - 1, i), tile(i, 0), tile(i, kTileSide - 1)})
      rim.push_back(v);
  std::nth_element(rim.begin(), rim.begin() + static_cast<std::ptrdiff_t>(rim.size() / 2), rim.end());
  return rim[rim.size() / 2];
}

// The strongest tenth counts as one: a white bird's black wing tips must not be all of its silhouette.
void saturate(cv::Mat1f& silhouette) {
  std::vector<float> values(silhouette.begin(), silhouette.end());
  const auto top = values.begin() + static_cast<std::ptrdiff_t>(values.size() * 9 / 10);
  std::nth_element(values.begin(), top, values.end());
  silhouette = cv::Mat(cv::min(cv::Mat(silhouette / (*top + 1e-3F)), 1));
}

Layers layers_of(const PoseDescriptor& picture) {
  cv::Mat1f tile;
  cv::Mat(kTileSide, kTileSide, CV_8U, const_cast<std::uint8_t*>(picture.tile.data()))
      .convertTo(tile, CV_32F);
  tile -= median_of_rim(tile);
  cv::Mat1f smooth, across, down, silhouette(cv::Mat(cv::abs(tile)));
  cv::GaussianBlur(tile, smooth, {}, kSmooth);
  cv::Sobel(smooth, across, CV_32F, 1, 0);
  cv::Sobel(smooth, down, CV_32F, 0, 1);
  cv::GaussianBlur(silhouette, silhouette, {}, kSmooth);
  saturate(silhouette);
  Layers out{across, down, silhouette};
  for (cv::Mat1f& layer : out) cv::resize(layer, layer, {kCells, kCells}, 0, 0, cv::INTER_AREA);
  return out;
}

struct Centre {
  double x = 0, y = 0;
};

Centre centre_of(const cv::Mat1f& silhouette) {
  const cv::Moments m = cv::moments(silhouette.mul(silhouette));
  return {m.m10 / m.m00, m.m01 / m.m00};
}

double energy_of(const cv::Mat1f& layer) {
  return layer.dot(layer);
}

// The layers drawn at `size` around the middle of a canvas; empty when there is nothing to draw.
std::vector<float> drawn(const Layers& layers, const Centre& centre, double size) {
  const double middle = (kPrintSide - 1) / 2.0;
  const cv::Matx23d move(size, 0, middle - size * centre.x, 0, size, middle - size * centre.y);
  Layers moved;
  for (std::size_t i = 0; i < moved.size(); ++i)
    cv::warpAffine(layers[i], moved[i], move, {kPrintSide, kPrintSide}, cv::INTER_LINEAR);
  const double lines = energy_of(moved[0]) + energy_of(moved[1]), shape = energy_of(moved[2]);
  if (!(lines > 1e-9 && shape > 1e-9)) return {};
  const double of_lines = std::sqrt(.5 / lines), of_shape = std::sqrt(.5 / shape);
  std::vector<float> out;
  for (std::size_t i = 0; i < moved.size(); ++i) {
    moved[i] *= i < 2 ? of_lines : of_shape;
    out.insert(out.end(), moved[i].begin(), moved[i].end());
  }
  return out;
}

std::vector<float> with_rim(const std::vector<float>& print) {
  std::vector<float> out;
  for (int layer = 0; layer < kPrintLayers; ++layer) {
    const cv::Mat1f canvas(kPrintSide, kPrintSide, const_cast<float*>(print.data()) + layer * kCanvasCells);
    cv::Mat1f wide;
    cv::copyMakeBorder(canvas, wide, kPrintReach, kPrintReach, kPrintReach, kPrintReach, cv::BORDER_CONSTANT,
                       cv::Scalar(0));
    out.insert(out.end(), wide.begin(), wide.end());
  }
  return out;
}

// Four sums side by side: the compiler may not reorder one.
float product(const float* a, const float* b) {
  float s[8] = {};
  for (int x = 0; x < kPrintSide; x += 8)
    for (int k = 0; k < 8; ++k) s[k] += a[x + k] * b[x + k];
  return ((s[0] + s[1]) + (s[2] + s[3])) + ((s[4] + s[5]) + (s[6] + s[7]));
}

float product_at(const std::vector<float>& wide, const std::vector<float>& canvas, int dx, int dy) {
  constexpr int kWide = kPrintSide + 2 * kPrintReach;
  float sum = 0;
  for (int layer = 0; layer < kPrintLayers; ++layer)
    for (int y = 0; y < kPrintSide; ++y)
      sum += product(wide.data() + (layer * kWide + y + dy) * kWide + dx,
                     canvas.data() + (layer * kPrintSide + y) * kPrintSide);
  return sum;
}

}  // namespace

PosePrint print_of(const PoseDescriptor& picture) {
  PosePrint out;
  if (picture.tile.size() != static_cast<std::size_t>(kTileSide) * kTileSide) return out;
  const Layers layers = layers_of(picture);
  if (!(energy_of(layers[2]) > 1e-9)) return out;
  const Centre centre = centre_of(layers[2]);
  for (std::size_t i = 0; i < kPrintSizes.size(); ++i) {
    out.sizes[i] = drawn(layers, centre, kPrintSizes[i]);
    if (out.sizes[i].empty()) return {};
  }
  out.own = with_rim(out.sizes[kOwnSize]);
  return out;
}

double likeness(const PosePrint& a, const PosePrint& b) {
  if (a.empty() || b.empty()) return -1;
  float best = -1;
  for (const auto& canvas : b.sizes)
    for (int dy = 0; dy <= 2 * kPrintReach; ++dy)
      for (int dx = 0; dx <= 2 * kPrintReach; ++dx) best = std::max(best, product_at(a.own, canvas, dx, dy));
  return std::clamp<double>(best, -1, 1);
}

}  // namespace burstsieve::group
