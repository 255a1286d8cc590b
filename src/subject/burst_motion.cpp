// What moved against the background since the frame before, after the background has been laid over itself
// (pan, rocking boat). Blind to: a perched bird, waves and reeds in wind, which move too.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "background_shift.h"
#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {

Glance glance_at(const cv::Mat& eighth) {
  if (eighth.empty()) return {};
  const double scale = 256.0 / std::max(eighth.cols, eighth.rows);
  cv::Mat grey, small;
  cv::cvtColor(eighth, grey, cv::COLOR_BGR2GRAY);
  cv::resize(grey, small,
             {std::max(8, static_cast<int>(std::lround(grey.cols * scale))),
              std::max(8, static_cast<int>(std::lround(grey.rows * scale)))},
             0, 0, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  Glance out;
  small.convertTo(out.grey, CV_32F, 1 / 255.0);
  return out;
}

void find_by_burst_motion(const FinderInput& input, std::vector<Subject>& out) {
  if (!input.previous || !input.now || input.previous->grey.empty() || input.now->grey.empty()) return;
  const cv::Mat& now = input.now->grey;
  const cv::Mat& before = input.previous->grey;
  if (now.size() != before.size()) return;
  const auto background = background_shift(before, now);
  if (!background) return;
  const cv::Point2d shift = background->by;
  const cv::Matx23d move(1, 0, shift.x, 0, 1, shift.y);
  cv::Mat laid, difference;
  cv::warpAffine(before, laid, move, now.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::absdiff(laid, now, difference);
  const int rim = 2 + static_cast<int>(std::ceil(std::max(std::abs(shift.x), std::abs(shift.y))));
  if (2 * rim >= std::min(now.cols, now.rows)) return;
  cv::Mat inner = cv::Mat::zeros(difference.size(), CV_32F);
  const cv::Rect safe(rim, rim, now.cols - 2 * rim, now.rows - 2 * rim);
  difference(safe).copyTo(inner(safe));
  cv::GaussianBlur(inner, inner, {}, 3);
  cv::Scalar mean, deviation;
  cv::meanStdDev(inner(safe), mean, deviation);
  double top = 0;
  cv::minMaxLoc(inner, nullptr, &top);
  if (top < .02 || top < mean[0] + 4 * deviation[0])
    return;  // nothing stands out from the leftovers of registration
  const auto found = blobs(inner / top, std::max(.3, (mean[0] + 1.5 * deviation[0]) / top));
  if (found.empty() || found.front().box.area() > .6) return;
  out.push_back({grown(found.front().box, 1.05), std::nullopt,
                 std::clamp(.6 * found.front().solidity + .4 * background->response, .1, .55),
                 "burst motion"});
}

}  // namespace burstsieve::subject
