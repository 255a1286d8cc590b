#include "published.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace burstsieve::compare {
namespace {

double square(double x) {
  return x * x;
}

cv::Mat unit_range(const cv::Mat& luma) {
  cv::Mat out;
  luma.convertTo(out, CV_64F, 1.0 / 255);
  return out;
}

// Standard deviation of white noise: the second difference in both directions has 36 times its variance.
double noise_by_median(const cv::Mat& luma) {
  const cv::Matx33d kernel(1, -2, 1, -2, 4, -2, 1, -2, 1);
  cv::Mat rest;
  cv::filter2D(luma, rest, CV_64F, kernel);
  std::vector<double> sizes(rest.begin<double>(), rest.end<double>());
  for (double& v : sizes) v = std::abs(v);
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return *middle / .6745 / 6;
}

// One direction of the blur effect: the share of the variation that is left after the box filter.
double crete_along(const cv::Mat& image, bool down) {
  const cv::Mat box =
      down ? cv::Mat(11, 1, CV_64F, cv::Scalar(1.0 / 11)) : cv::Mat(1, 11, CV_64F, cv::Scalar(1.0 / 11));
  cv::Mat blurred, sharp_edges, blurred_edges;
  cv::filter2D(image, blurred, CV_64F, box, {-1, -1}, 0, cv::BORDER_REFLECT);
  cv::Sobel(image, sharp_edges, CV_64F, down ? 0 : 1, down ? 1 : 0, 3, 1, 0, cv::BORDER_REFLECT);
  cv::Sobel(blurred, blurred_edges, CV_64F, down ? 0 : 1, down ? 1 : 0, 3, 1, 0, cv::BORDER_REFLECT);
  double all = 0, lost = 0;
  for (int y = 2; y < image.rows - 1; ++y)
    for (int x = 2; x < image.cols - 1; ++x) {
      const double sharp = std::abs(sharp_edges.at<double>(y, x));
      all += sharp;
      lost += std::max(0.0, sharp - std::abs(blurred_edges.at<double>(y, x)));
    }
  return all > 0 ? std::abs(all - lost) / all : 1;
}

// One level of the 9/7 wavelet (Antonini et al. 1992; coefficients as in ISO/IEC 15444-1, from memory).
constexpr std::array<double, 9> kLow{.026748757411,  -.016864118443, -.078223266529,
                                     .266864118443,  .602949018236,  .266864118443,
                                     -.078223266529, -.016864118443, .026748757411};
constexpr std::array<double, 7> kHigh{.091271763114,  -.057543526229, -.591271763114, 1.115087052457,
                                      -.591271763114, -.057543526229, .091271763114};

template <std::size_t N>
cv::Mat kernel_of(const std::array<double, N>& taps) {
  return cv::Mat(1, static_cast<int>(N), CV_64F, const_cast<double*>(taps.data())).clone();
}

cv::Mat every_second(const cv::Mat& m, int first_row, int first_col) {
  cv::Mat out((m.rows - first_row + 1) / 2, (m.cols - first_col + 1) / 2, CV_64F);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x)
      out.at<double>(y, x) = m.at<double>(2 * y + first_row, 2 * x + first_col);
  return out;
}

double log_energy(const cv::Mat& band) {
  return std::log10(1 + cv::mean(band.mul(band))[0]);
}

}  // namespace

double laplacian_variance(const cv::Mat& luma) {
  cv::Mat out;
  cv::Laplacian(luma, out, CV_16S, 1);
  cv::Scalar mean, deviation;
  cv::meanStdDev(out, mean, deviation);
  return square(deviation[0]);
}

double tenengrad(const cv::Mat& luma) {
  cv::Mat x, y;
  cv::Sobel(luma, x, CV_32F, 1, 0);
  cv::Sobel(luma, y, CV_32F, 0, 1);
  return cv::mean(x.mul(x) + y.mul(y))[0];
}

double tenengrad_without_noise(const cv::Mat& luma) {
  return tenengrad(luma) - 24 * square(noise_by_median(luma));
}

double crete_blur(const cv::Mat& luma) {
  const cv::Mat image = unit_range(luma);
  return std::max(crete_along(image, true), crete_along(image, false));
}

double zhan_sharpness(const cv::Mat& luma) {
  cv::Mat x, y, size;
  cv::Sobel(luma, x, CV_32F, 1, 0);
  cv::Sobel(luma, y, CV_32F, 0, 1);
  cv::magnitude(x, y, size);
  double top = 0;
  cv::minMaxLoc(size, nullptr, &top);
  cv::Scalar mean, deviation;
  cv::meanStdDev(size, mean, deviation);
  return mean[0] > 0 ? std::pow(top, .61) * std::pow(deviation[0] / mean[0], .39) : 0;
}

double fish_sharpness(const cv::Mat& luma) {
  static const cv::Mat low = kernel_of(kLow), high = kernel_of(kHigh);
  cv::Mat image;
  luma.convertTo(image, CV_64F);
  double total = 0;
  for (int level = 1; level <= 3; ++level) {
    const auto band = [&](const cv::Mat& across, const cv::Mat& down, bool odd_x, bool odd_y) {
      cv::Mat out;
      cv::sepFilter2D(image, out, CV_64F, across, down, {-1, -1}, 0, cv::BORDER_REFLECT_101);
      return every_second(out, odd_y, odd_x);
    };
    const double sides =
        (log_energy(band(high, low, true, false)) + log_energy(band(low, high, false, true))) / 2;
    const double diagonal = log_energy(band(high, high, true, true));
    total += std::exp2(3 - level) * (.2 * sides + .8 * diagonal);
    image = band(low, low, false, false);
  }
  return total;
}

std::span<const Published> published() {
  static constexpr std::array kAll{
      Published{"variance of Laplacian", laplacian_variance},
      Published{"Tenengrad", tenengrad},
      Published{"Tenengrad - 24 s² (s by MAD)", tenengrad_without_noise},
      Published{"Crete 2007", crete_blur, true},
      Published{"Zhan 2018", zhan_sharpness},
      Published{"FISH 2012", fish_sharpness},
  };
  return kAll;
}

}  // namespace burstsieve::compare
