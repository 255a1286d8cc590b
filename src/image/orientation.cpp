#include "burstsieve/image/orientation.h"

#include "burstsieve/image/buffer_pool.h"
#include "burstsieve/model/region.h"

namespace burstsieve::image {

cv::Mat upright(const cv::Mat& sensor, int orientation) {
  if (sensor.empty()) return {};
  const cv::Size size = upright(sensor.size(), orientation);
  cv::Mat out = pooled(size.height, size.width, sensor.type());
  switch (orientation) {
    case 2:
      cv::flip(sensor, out, 1);
      break;
    case 3:
      cv::flip(sensor, out, -1);
      break;
    case 4:
      cv::flip(sensor, out, 0);
      break;
    case 5:
      cv::transpose(sensor, out);
      break;
    case 6:
      cv::rotate(sensor, out, cv::ROTATE_90_CLOCKWISE);
      break;
    case 7: {
      cv::Mat turned = pooled(size.height, size.width, sensor.type());
      cv::transpose(sensor, turned);
      cv::flip(turned, out, -1);
      break;
    }
    case 8:
      cv::rotate(sensor, out, cv::ROTATE_90_COUNTERCLOCKWISE);
      break;
    default:
      sensor.copyTo(out);
  }
  return out;
}

cv::Size upright(cv::Size sensor, int orientation) {
  return swaps_sides(orientation) ? cv::Size(sensor.height, sensor.width) : sensor;
}

cv::Rect as_sensor(const cv::Rect& rect, cv::Size upright_size, int orientation) {
  if (upright_size.empty()) return {};
  const double w = upright_size.width;
  const double h = upright_size.height;
  const Region there =
      burstsieve::as_sensor({rect.x / w, rect.y / h, rect.width / w, rect.height / h}, orientation);
  const cv::Size sensor = upright(upright_size, orientation);
  return {cvRound(there.x * sensor.width), cvRound(there.y * sensor.height), cvRound(there.w * sensor.width),
          cvRound(there.h * sensor.height)};
}

}  // namespace burstsieve::image
