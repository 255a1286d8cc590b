// Two pictures drawn with whole numbers only, so that tools/convert-detector/reference.mjs draws the same.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::test {

inline bool in_ellipse(int x, int y, int cx, int cy, int a, int b) {
  const int dx = x - cx, dy = y - cy;
  return dx * dx * b * b + dy * dy * a * a <= a * a * b * b;
}

inline bool in_triangle(int x, int y, cv::Point a, cv::Point b, cv::Point c) {
  const auto side = [&](cv::Point p, cv::Point q) {
    return (q.x - p.x) * (y - p.y) - (q.y - p.y) * (x - p.x);
  };
  const int ab = side(a, b), bc = side(b, c), ca = side(c, a);
  return (ab >= 0 && bc >= 0 && ca >= 0) || (ab <= 0 && bc <= 0 && ca <= 0);
}

// A crow that stands in short grass before a pale sky.
inline cv::Vec3b bird_at(int x, int y) {
  if (in_triangle(x, y, {285, 120}, {285, 142}, {325, 138}) ||  // bill
      in_ellipse(x, y, 265, 130, 28, 25) || in_ellipse(x, y, 245, 165, 40, 45) ||
      in_ellipse(x, y, 215, 190, 62, 50) || in_triangle(x, y, {190, 160}, {200, 235}, {60, 280}))
    return {25, 22, 20};
  if (in_triangle(x, y, {215, 235}, {225, 235}, {222, 310}) ||
      in_triangle(x, y, {235, 235}, {245, 235}, {250, 310}))
    return {20, 20, 20};
  const auto blade = [](int base, int part) { return static_cast<unsigned char>(base + part); };
  if (y > 305) return {blade(70, x * y / 97 % 30), blade(120, (x + 3 * y) % 23), blade(90, (3 * x + y) % 19)};
  return {230, 220, 210};
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
