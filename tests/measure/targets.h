// Known-answer targets: step edges and dead leaves of a known Gaussian blur, as the sensor would average
// them.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <random>

namespace targets {

// Scene-linear step edge from low to high, blurred by a Gaussian of sigma px and averaged over the pixel (its
// box of variance 1/12). degrees: direction of the gradient.
inline cv::Mat edge(int side, double sigma, double degrees, double low = .1, double high = .6) {
  cv::Mat out(side, side, CV_32F);
  const double a = degrees * CV_PI / 180, total = std::sqrt(sigma * sigma + 1.0 / 12);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const double d = (x + .5 - side / 2.0) * std::cos(a) - (y + .5 - side / 2.0) * std::sin(a);
      out.at<float>(y, x) =
          static_cast<float>(low + (high - low) * .5 * (1 + std::erf(d / (total * std::sqrt(2.0)))));
    }
  return out;
}

// Scene-linear dead leaves: opaque discs with radii r of density ~ r^-3 (Lee, Mumford & Huang, IJCV 41, 2001;
// from memory), painted at 4x and area-averaged; blurred before the averaging. The smallest radius is 4 px:
// texture finer than the blur would answer for the texture, not for the lens.
inline cv::Mat leaves(int side, double sigma, unsigned seed) {
  constexpr int kOver = 4;
  const int n = side * kOver;
  std::mt19937 rng(seed);
  const auto uniform = [&] { return (static_cast<double>(rng()) + .5) / 4294967296.0; };
  cv::Mat big(n, n, CV_32F, cv::Scalar(.3));
  const double r0 = 4.0 * kOver, r1 = 60.0 * kOver;
  for (int i = 0; i < 6000; ++i) {
    const double u = uniform();
    const double r = 1 / std::sqrt(1 / (r0 * r0) - u * (1 / (r0 * r0) - 1 / (r1 * r1)));
    const cv::Point centre(static_cast<int>(uniform() * n), static_cast<int>(uniform() * n));
    cv::circle(big, centre, static_cast<int>(r), cv::Scalar(.05 + .75 * uniform()), cv::FILLED);
  }
  if (sigma > 0) cv::GaussianBlur(big, big, {}, sigma * kOver, sigma * kOver, cv::BORDER_REFLECT_101);
  cv::Mat out;
  cv::resize(big, out, {side, side}, 0, 0, cv::INTER_AREA);
  return out;
}

// Uniform motion over `length` px along `degrees`, applied to a scene-linear image.
inline cv::Mat streaked(const cv::Mat& image, double length, double degrees) {
  const double a = degrees * CV_PI / 180;
  const int steps = std::max(2, static_cast<int>(std::ceil(length * 4)));
  cv::Mat sum = cv::Mat::zeros(image.size(), CV_32F), moved;
  for (int i = 0; i < steps; ++i) {
    const double t = ((i + .5) / steps - .5) * length;
    const cv::Matx23d shift(1, 0, t * std::cos(a), 0, 1, -t * std::sin(a));
    cv::warpAffine(image, moved, shift, image.size(), cv::INTER_LINEAR, cv::BORDER_REFLECT_101);
    sum += moved;
  }
  return sum / steps;
}

// Sensor noise of variance s*x + o, then the sRGB curve (IEC 61966-2-1) to 8 bit.
inline cv::Mat developed(const cv::Mat& linear, double s, double o, unsigned seed, double gain = 1) {
  std::mt19937 rng(seed);
  std::normal_distribution<double> normal;
  cv::Mat out(linear.size(), CV_8U);
  for (int y = 0; y < linear.rows; ++y)
    for (int x = 0; x < linear.cols; ++x) {
      const double v = gain * linear.at<float>(y, x);
      const double n = std::clamp(v + std::sqrt(s * v + o) * normal(rng), 0.0, 1.0);
      const double e = n <= .0031308 ? 12.92 * n : 1.055 * std::pow(n, 1 / 2.4) - .055;
      out.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(std::lround(255 * e));
    }
  return out;
}

}  // namespace targets
