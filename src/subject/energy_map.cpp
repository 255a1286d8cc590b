#include "burstsieve/subject/energy_map.h"

#include <algorithm>
#include <array>
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

namespace {

bool holds(const Region& box, double x, double y) {
  constexpr double kSlack = .03;  // the AF area may lie just off the detail
  return x >= box.x - kSlack && x <= box.right() + kSlack && y >= box.y - kSlack &&
         y <= box.bottom() + kSlack;
}

// Larger than a glint, smaller than a background.
bool animal_sized(const Region& box) {
  return box.area() >= 4e-4 && box.area() <= .55 && box.w < .97 && box.h < .97;
}

}  // namespace

StableBox stable_box(const cv::Mat& map, double x, double y) {
  constexpr std::array kThresholds{.08, .10, .12, .15, .18, .22, .27, .33, .40};
  std::array<Region, kThresholds.size()> boxes;
  for (std::size_t i = 0; i < kThresholds.size(); ++i)
    for (const Blob& blob : blobs(map, kThresholds[i]))
      if (holds(blob.box, x, y) && animal_sized(blob.box)) {
        boxes[i] = blob.box;
        break;
      }
  StableBox out;
  double best = 0;
  for (std::size_t i = 0; i + 2 < boxes.size(); ++i) {
    if (boxes[i].empty() || boxes[i + 1].empty() || boxes[i + 2].empty()) continue;
    const double stability = std::min(overlap(boxes[i], boxes[i + 1]), overlap(boxes[i + 1], boxes[i + 2]));
    // A head alone is as stable as the whole bird: of equals the larger box is the animal.
    const double worth = stability * std::sqrt(boxes[i + 1].area());
    if (worth > best) best = worth, out = {boxes[i + 1], stability};
  }
  for (std::size_t i = 0; i < boxes.size() && out.box.empty(); ++i) out.box = boxes[i];
  return out;
}

CellMask subject_mask(const cv::Mat& map, const Region& box) {
  CellMask out;
  if (map.empty() || box.empty()) return out;
  const cv::Rect inside = cv::Rect(static_cast<int>(box.x * map.cols), static_cast<int>(box.y * map.rows),
                                   std::max(1, static_cast<int>(std::ceil(box.w * map.cols))),
                                   std::max(1, static_cast<int>(std::ceil(box.h * map.rows)))) &
                          cv::Rect(0, 0, map.cols, map.rows);
  if (inside.empty()) return out;
  double top = 0;
  cv::minMaxLoc(map(inside), nullptr, &top);
  if (!(top > 0)) return out;
  cv::Mat mask = cv::Mat::zeros(map.size(), CV_8U);
  // .15 of the strongest: where boxes around rendered birds agreed best with the truth (tests/subject).
  cv::Mat(map(inside) >= .15 * top).copyTo(mask(inside));
  // With a rim of nothing around it: OpenCV's erosion takes what lies outside for set, and closing would
  // stretch whatever comes within two cells of the frame's edge out to it.
  constexpr int kReach = 2;
  cv::copyMakeBorder(mask, mask, kReach, kReach, kReach, kReach, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::morphologyEx(mask, mask, cv::MORPH_CLOSE,
                   cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kReach + 1, 2 * kReach + 1}));
  mask = mask(cv::Rect(kReach, kReach, map.cols, map.rows)).clone();
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  mask.setTo(0);
  // Specks of the background inside the box: outlines a fifth as long as the animal's or less.
  double largest = 0;
  for (const auto& c : contours) largest = std::max(largest, static_cast<double>(c.size()));
  for (std::size_t i = 0; i < contours.size(); ++i)
    if (static_cast<double>(contours[i].size()) >= .2 * largest)
      cv::drawContours(mask, contours, static_cast<int>(i), cv::Scalar(1), cv::FILLED);
  out.cols = mask.cols;
  out.rows = mask.rows;
  out.cells.assign(mask.begin<std::uint8_t>(), mask.end<std::uint8_t>());
  return out;
}

}  // namespace burstsieve::subject
