#include "cut_scene.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"

namespace burstsieve::subject {
namespace {

constexpr double kRim = .2;  // of the box's longer side
// From this share of kCutSide on the 1/8 picture will do.
constexpr double kEnoughCells = .75;
// Steps of L* that a doubling of the detail's energy is worth. Of 0 to 6 the best on the tuning cases
// (docs/subject.md): without texture grey birds before grey water run out, with much of it every outline
// grows by the width of its own detail.
constexpr float kPerOctave = 2;

Region with_rim(const Region& box, double width, double height) {
  const double rim = kRim * std::max(box.w * width, box.h * height);
  const double rx = rim / width, ry = rim / height;
  return clamped({box.x - rx, box.y - ry, box.w + 2 * rx, box.h + 2 * ry});
}

cv::Rect pixels_of_region(const Region& r, cv::Size size) {
  return cv::Rect(cv::Point(static_cast<int>(r.x * size.width), static_cast<int>(r.y * size.height)),
                  cv::Point(static_cast<int>(std::ceil(r.right() * size.width)),
                            static_cast<int>(std::ceil(r.bottom() * size.height)))) &
         cv::Rect(cv::Point(0, 0), size);
}

cv::Size small_size(cv::Size size) {
  const double scale = std::min(1.0, static_cast<double>(kCutSide) / std::max(size.width, size.height));
  return {std::max(1, static_cast<int>(std::lround(size.width * scale))),
          std::max(1, static_cast<int>(std::lround(size.height * scale)))};
}

// As image::activity_map measures it, pixel by pixel.
cv::Mat1f squared_differences(const cv::Mat& luma) {
  cv::Mat1f out(luma.size(), 0.0f);
  for (int y = 0; y + 1 < luma.rows; ++y) {
    const auto *a = luma.ptr<std::uint8_t>(y), *b = luma.ptr<std::uint8_t>(y + 1);
    float* to = out[y];
    for (int x = 0; x + 1 < luma.cols; ++x) {
      const int dx = a[x + 1] - a[x], dy = b[x] - a[x];
      to[x] = static_cast<float>(dx * dx + dy * dy);
    }
  }
  return out;
}

// The activity under every cell of a picture of `where`.
cv::Mat1f activity_under(const cv::Mat& activity, const decode::Planes& planes, const Region& where,
                         cv::Size cells) {
  const cv::Mat up = image::upright(activity, planes.orientation);
  const double kx = static_cast<double>(planes.upright_width()) / image::kActivityCell,
               ky = static_cast<double>(planes.upright_height()) / image::kActivityCell;
  cv::Mat1f x(cells), y(cells), out;
  for (int row = 0; row < cells.height; ++row)
    for (int col = 0; col < cells.width; ++col) {
      x(row, col) = static_cast<float>((where.x + where.w * (col + .5) / cells.width) * kx - .5);
      y(row, col) = static_cast<float>((where.y + where.h * (row + .5) / cells.height) * ky - .5);
    }
  cv::remap(up, out, x, y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  return out;
}

// bgr, detail: of the same size. quiet: the detail that noise alone makes.
cv::Mat_<Look> looks_of(const cv::Mat3b& bgr, const cv::Mat1f& detail, double quiet) {
  cv::Mat3f real, lab;
  bgr.convertTo(real, CV_32F, 1 / 255.);
  cv::cvtColor(real, lab, cv::COLOR_BGR2Lab);
  // The detail of an outline reaches a cell out of it: the least around a cell is what goes on there.
  cv::Mat1f least;
  cv::erode(detail, least, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  cv::Mat_<Look> out(bgr.size());
  const auto noise = static_cast<float>(quiet);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) {
      const cv::Vec3f c = lab(y, x);
      const float signal = std::max(0.0f, least(y, x) - noise) + .5f * noise + 2;
      out(y, x) = {c[0], c[1], c[2], kPerOctave * std::log2(signal)};
    }
  return out;
}

}  // namespace

CutScene cut_scene(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                   const Region& box) {
  CutScene out;
  const double width = planes.upright_width(), height = planes.upright_height();
  if (box.empty() || eighth.empty() || activity.empty() || !(width > 0 && height > 0)) return out;
  const Region want = with_rim(box, width, height);
  cv::Mat3b bgr;
  cv::Mat1f detail;
  if (std::max(want.w * eighth.cols, want.h * eighth.rows) >= kEnoughCells * kCutSide) {
    const cv::Rect r = pixels_of_region(want, eighth.size());
    if (r.empty()) return out;
    // The last cells of the 1/8 picture may show less than 8 px.
    out.where = clamped({r.x * 8 / width, r.y * 8 / height, r.width * 8 / width, r.height * 8 / height});
    cv::resize(eighth(r), bgr, small_size(r.size()), 0, 0, cv::INTER_AREA);
    detail = activity_under(activity, planes, out.where, bgr.size());
  } else {
    const auto crop = decode::crop_colour(planes, want);
    if (crop.bgr.empty()) return out;
    out.where = {crop.where.x / width, crop.where.y / height, crop.where.width / width,
                 crop.where.height / height};
    cv::resize(crop.bgr, bgr, small_size(crop.bgr.size()), 0, 0, cv::INTER_AREA);
    cv::resize(squared_differences(decode::crop_luma(planes, want).luma), detail, bgr.size(), 0, 0,
               cv::INTER_AREA);
  }
  out.looks = looks_of(bgr, detail, image::quiet_level(activity));
  out.box = {(box.x - out.where.x) / out.where.w * bgr.cols, (box.y - out.where.y) / out.where.h * bgr.rows,
             box.w / out.where.w * bgr.cols, box.h / out.where.h * bgr.rows};
  return out;
}

}  // namespace burstsieve::subject
