#include "burstsieve/group/pose.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace burstsieve::group {
namespace {

constexpr int kSide = 64;

// A square in pixels around the box, so that a wing up and a wing down keep their proportions.
Region square_around(const Region& box, double width, double height) {
  const double side = 1.15 * std::max(box.w * width, box.h * height);
  return {box.centre_x() - side / 2 / width, box.centre_y() - side / 2 / height, side / width, side / height};
}

cv::Mat cut_square(const cv::Mat& image, const Region& square) {
  const cv::Rect want(static_cast<int>(std::lround(square.x * image.cols)),
                      static_cast<int>(std::lround(square.y * image.rows)),
                      std::max(1, static_cast<int>(std::lround(square.w * image.cols))),
                      std::max(1, static_cast<int>(std::lround(square.h * image.rows))));
  const cv::Rect have = want & cv::Rect(0, 0, image.cols, image.rows);
  if (have.empty()) return {};
  cv::Mat out;
  cv::copyMakeBorder(image(have), out, have.y - want.y, want.br().y - have.br().y, have.x - want.x,
                     want.br().x - have.br().x, cv::BORDER_REPLICATE | cv::BORDER_ISOLATED);
  return out;
}

// Soft weights of the animal over the tile.
cv::Mat weights_over(const Region& square, const CellMask& mask) {
  cv::Mat weights(kSide, kSide, CV_32F);
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x)
      weights.at<float>(y, x) =
          mask.holds(square.x + (x + .5) / kSide * square.w, square.y + (y + .5) / kSide * square.h) ? 1.0f
                                                                                                     : 0.0f;
  cv::GaussianBlur(weights, weights, {}, 1.2);
  return weights;
}

void fade_background(cv::Mat& tile, const Region& square, const CellMask& mask) {
  if (mask.empty()) return;
  const cv::Mat weights = weights_over(square, mask);
  const double total = cv::sum(weights)[0];
  if (total < kSide) return;  // next to nothing of the animal in the tile: better the whole than a speck
  cv::Mat real;
  tile.convertTo(real, CV_32F);
  const double inside = cv::sum(real.mul(weights))[0] / total;
  const double outside = cv::sum(real.mul(1 - weights))[0] / std::max(1.0, kSide * kSide - total);
  // The backdrop keeps its mean tone, so that the outline stays; only its pattern goes.
  const double backdrop = std::abs(outside - inside) < 12 ? inside - 12 : outside;
  real = real.mul(weights) + (1 - weights) * backdrop;
  real.convertTo(tile, CV_8U);
}

}  // namespace

std::uint64_t dct_hash(const cv::Mat& grey) {
  if (grey.empty()) return 0;
  cv::Mat small, real, frequencies;
  cv::resize(grey, small, {32, 32}, 0, 0, cv::INTER_AREA);
  small.convertTo(real, CV_32F);
  cv::dct(real, frequencies);
  const cv::Mat low = frequencies(cv::Rect(0, 0, 8, 8));
  const double mean = (cv::sum(low)[0] - low.at<float>(0, 0)) / 63;
  std::uint64_t hash = 0;
  for (int i = 0; i < 64; ++i)
    if (i > 0 && low.at<float>(i / 8, i % 8) > mean) hash |= std::uint64_t{1} << i;
  return hash;
}

PoseDescriptor describe_pose(const decode::Planes& planes, const cv::Mat& eighth, const Region& box,
                             const CellMask& mask) {
  PoseDescriptor out;
  if (box.empty() || eighth.empty()) return out;
  const double width = planes.upright_width(), height = planes.upright_height();
  const Region square = square_around(box, width, height);
  cv::Mat picture;
  if (square.w * eighth.cols >= kSide) {
    cv::Mat grey;
    cv::cvtColor(eighth, grey, cv::COLOR_BGR2GRAY);
    picture = cut_square(grey, square);
  } else {
    // The whole frame's luma, upright, would be too much for one small bird: only the square, then its rim.
    const auto crop = decode::crop_luma(planes, clamped(square));
    if (crop.luma.empty()) return out;
    const cv::Rect want(
        static_cast<int>(std::lround(square.x * width)), static_cast<int>(std::lround(square.y * height)),
        static_cast<int>(std::lround(square.w * width)), static_cast<int>(std::lround(square.h * height)));
    const cv::Rect have = crop.where;
    cv::copyMakeBorder(crop.luma, picture, std::max(0, have.y - want.y),
                       std::max(0, want.br().y - have.br().y), std::max(0, have.x - want.x),
                       std::max(0, want.br().x - have.br().x), cv::BORDER_REPLICATE | cv::BORDER_ISOLATED);
  }
  if (picture.empty()) return out;
  cv::Mat tile;
  cv::resize(picture, tile, {kSide, kSide}, 0, 0, cv::INTER_AREA);
  fade_background(tile, square, mask);
  out.tile.assign(tile.begin<std::uint8_t>(), tile.end<std::uint8_t>());
  out.hash = dct_hash(tile);
  return out;
}

}  // namespace burstsieve::group
