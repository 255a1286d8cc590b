#include "background_shift.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace burstsieve::subject {

std::optional<BackgroundShift> background_shift(const cv::Mat& before, const cv::Mat& now) {
  static thread_local cv::Mat window;
  if (window.size() != now.size()) cv::createHanningWindow(window, now.size(), CV_32F);
  BackgroundShift out;
  out.by = cv::phaseCorrelate(before, now, window, &out.response);
  if (!(out.response > .08) || std::hypot(out.by.x, out.by.y) > now.cols / 3.0) return std::nullopt;
  return out;
}

}  // namespace burstsieve::subject
