// Laying two glances of a burst over each other.
#pragma once
#include <opencv2/core.hpp>
#include <optional>

namespace burstsieve::subject {

struct BackgroundShift {
  cv::Point2d by;       // glance pixels, from the earlier frame to the later
  double response = 0;  // of the phase correlation, 0..1
};

// Where the background went: pan, rocking boat. Nothing without a background to register (on a plain sky the
// shift would be the bird's own, or noise) and for more than a third of the width. Same size, CV_32F, not
// empty.
std::optional<BackgroundShift> background_shift(const cv::Mat& before, const cv::Mat& now);

}  // namespace burstsieve::subject
