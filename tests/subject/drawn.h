// Two pictures drawn with whole numbers only, so that tools/convert-detector/reference.mjs draws the same.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::test {

inline bool in_ellipse(int x, int y, int cx, int cy, int a, int b) {
  const int dx = x - cx, dy = y - cy;
  return dx * dx * b * b + dy * dy * a * a <= a * a * b * b;
}

// A white bird with a grey wing, black tail and yellow bill before a blue sky.
inline cv::Vec3b bird_at(int x, int y) {
  if (in_ellipse(x, y, 290, 140, 6, 6)) return {20, 20, 20};
  if (in_ellipse(x, y, 280, 145, 38, 34)) return {245, 245, 245};
  if (x >= 310 && x < 360 && (y - 150) * 4 >= x - 360 && (y - 150) * 4 <= 360 - x) return {40, 190, 240};
  if (in_ellipse(x, y, 180, 215, 85, 38)) return {150, 145, 140};
  if (in_ellipse(x, y, 200, 220, 105, 62)) return {240, 240, 240};
  if (x >= 60 && x < 130 && y >= 205 && y < 245) return {40, 40, 40};
  if (y >= 270 && y < 330 && ((x >= 195 && x < 203) || (x >= 222 && x < 230))) return {60, 120, 220};
  if (y >= 330) return {90, 110, 100};
  return {static_cast<unsigned char>(230 - y / 4), static_cast<unsigned char>(190 - y / 8), 150};
}

// Nothing that anybody ever saw: it stirs every channel.
inline cv::Vec3b pattern_at(int x, int y) {
  const auto mixed = [&](int c) {
    return static_cast<unsigned char>((((x * x + 3 * x * y + 7 * y * y + 61 * c) >> 5) ^ (x >> 2)) & 255);
  };
  return {mixed(0), mixed(1), mixed(2)};
}

inline cv::Mat drawn(cv::Vec3b (*at)(int, int)) {
  cv::Mat out(416, 416, CV_8UC3);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) out.at<cv::Vec3b>(y, x) = at(x, y);
  return out;
}

}  // namespace burstsieve::test
