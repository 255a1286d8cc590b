#include "mosaic_layout.h"

#include "burstsieve/image/orientation.h"
#include "touched.h"

namespace burstsieve::decode {

cv::Rect MosaicLayout::under(const Region& region, int orientation) const {
  const cv::Size size = image::upright(frame.size(), orientation);
  const cv::Rect seen = touched(region, size);
  if (seen.empty()) return {};
  return image::as_sensor(seen, size, orientation) + frame.tl();
}

Mosaic MosaicLayout::mosaic(const cv::Rect& where, int orientation) const {
  Mosaic out;
  out.cfa_side = cfa_side;
  for (int y = 0; y < cfa_side; ++y)
    for (int x = 0; x < cfa_side; ++x)
      out.cfa[static_cast<std::size_t>(y * cfa_side + x)] = colour_at(where.y + y, where.x + x);
  out.black = black;
  out.white = white;
  out.as_shot_gain = gain;
  out.noise = noise;
  out.orientation = orientation;
  out.sensor_x = where.x;
  out.sensor_y = where.y;
  out.sensor_width = active.width;
  out.sensor_height = active.height;
  out.picture = frame;
  return out;
}

}  // namespace burstsieve::decode
