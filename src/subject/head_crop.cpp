#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/subject/head.h"

namespace burstsieve::subject {

HeadCrop head_crop(const decode::Planes& planes, const Region& box) {
  if (box.empty() || planes.luma.empty()) return {};
  const decode::ColourCrop cut = decode::crop_reduced(planes, grown(box, 1.125), kHeadSide);
  if (cut.bgr.empty()) return {};
  const double w = planes.upright_width(), h = planes.upright_height();
  return {cut.bgr, {cut.where.x / w, cut.where.y / h, cut.where.width / w, cut.where.height / h}};
}

cv::Mat mask_over(const CellMask& mask, const Region& where, cv::Size size) {
  if (mask.empty() || where.empty()) return {size, CV_8U, cv::Scalar(255)};
  cv::Mat out(size, CV_8U);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      out.at<std::uint8_t>(y, x) =
          mask.holds(where.x + where.w * (x + .5) / size.width, where.y + where.h * (y + .5) / size.height)
              ? 255
              : 0;
  // Half a cell: corners of cells are no outline.
  const double cell = size.width * mask.where.w / (where.w * mask.cols);
  cv::GaussianBlur(out, out, {}, std::clamp(.5 * cell, .5, 12.0));
  return out > 127;
}

}  // namespace burstsieve::subject
