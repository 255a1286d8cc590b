// Turning pictures and pixel rectangles upright.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::image {

// An upright copy of `sensor`, which lies as the sensor read it. orientation: EXIF 1..8 (Exif 2.32 tag
// 0x0112); any other value counts as 1. Any depth and channel count; an empty picture stays empty. The result
// never shares pixels with `sensor`.
cv::Mat upright(const cv::Mat& sensor, int orientation);

// The size of a picture of `sensor` size once it is upright. Its own inverse.
cv::Size upright(cv::Size sensor, int orientation);

// The rectangle of the sensor layout that shows as `rect` in an upright picture of `upright_size`. Exact for
// rectangles inside the picture; goes through burstsieve::as_sensor, the one place that knows the eight
// cases.
cv::Rect as_sensor(const cv::Rect& rect, cv::Size upright_size, int orientation);

}  // namespace burstsieve::image
