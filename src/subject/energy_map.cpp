#include "energy_map.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/activity.h"

namespace burstsieve::subject {
namespace {
constexpr int kGrid = 96;
}

cv::Mat energy_map(const cv::Mat& activity) {
  if (activity.empty()) return {};
  // Twice the quiet level is about what noise reaches by chance in a cell of 16 px.
  const auto floor = static_cast<float>(2 * image::quiet_level(activity));
  cv::Mat signal = activity - floor;
  signal = cv::max(signal, 0);
  cv::sqrt(signal, signal);  // amplitudes: one glint must not outweigh a bird
  const double scale = std::min(1.0, static_cast<double>(kGrid) / std::max(signal.cols, signal.rows));
  const cv::Size size(std::max(1, static_cast<int>(std::lround(signal.cols * scale))),
                      std::max(1, static_cast<int>(std::lround(signal.rows * scale))));
  cv::Mat map;
  cv::resize(signal, map, size, 0, 0, cv::INTER_AREA);
  cv::GaussianBlur(map, map, {}, std::max(.6, size.width * .012));
  double top = 0;
  cv::minMaxLoc(map, nullptr, &top);
  return top > 0 ? cv::Mat(map / top) : map;
}

std::vector<Blob> blobs(const cv::Mat& map, double threshold) {
  std::vector<Blob> out;
  if (map.empty()) return out;
  const cv::Mat mask = map >= threshold;
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, centres, 8, CV_32S);
  const double total = cv::sum(map)[0];
  out.resize(static_cast<std::size_t>(std::max(0, count - 1)));
  std::vector<float> best(out.size(), -1);
  for (int y = 0; y < map.rows; ++y)
    for (int x = 0; x < map.cols; ++x) {
      const int label = labels.at<int>(y, x);
      if (label == 0) continue;
      const auto i = static_cast<std::size_t>(label - 1);
      const float v = map.at<float>(y, x);
      out[i].weight += v;
      if (v > best[i]) best[i] = v, out[i].peak = {(x + .5) / map.cols, (y + .5) / map.rows};
    }
  for (int label = 1; label < count; ++label) {
    Blob& b = out[static_cast<std::size_t>(label - 1)];
    const int* s = stats.ptr<int>(label);
    b.box = {static_cast<double>(s[cv::CC_STAT_LEFT]) / map.cols,
             static_cast<double>(s[cv::CC_STAT_TOP]) / map.rows,
             static_cast<double>(s[cv::CC_STAT_WIDTH]) / map.cols,
             static_cast<double>(s[cv::CC_STAT_HEIGHT]) / map.rows};
    b.solidity = total > 0 ? b.weight / total : 0;
  }
  std::stable_sort(out.begin(), out.end(), [](const Blob& a, const Blob& b) { return a.weight > b.weight; });
  return out;
}

}  // namespace burstsieve::subject
