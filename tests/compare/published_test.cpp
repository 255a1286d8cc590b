// The ports of published measures: against scikit-image where it has one, else against what follows from
// their definition.
#include "published.h"

#include <doctest/doctest.h>

#include <cstdlib>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

using namespace burstsieve;

namespace {

template <class Formula>
cv::Mat drawn(Formula formula) {
  cv::Mat out(96, 128, CV_8U);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) out.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(formula(x, y));
  return out;
}

int triangle(int x, int period) {
  return std::abs(x % period - period / 2);
}

cv::Mat noisy(const cv::Mat& picture, double deviation) {
  cv::Mat noise(picture.size(), CV_16S), out;
  cv::theRNG().state = 11;
  cv::randn(noise, 0, deviation);
  cv::add(picture, noise, out, {}, CV_8U);
  return out;
}

}  // namespace

TEST_SUITE("compare/published") {
  // Golden values: skimage.measure.blur_effect of scikit-image 0.19.3 (Debian 12, python3-skimage) with its
  // defaults on the same formulas in numpy.
  TEST_CASE("the blur effect agrees with scikit-image within .001 on drawn pictures") {
    CHECK(std::abs(compare::crete_blur(
                       drawn([](int x, int y) { return (x * x * 7 + x * y * 13 + y * y * 3) % 256; })) -
                   .124800) < 1e-3);
    CHECK(std::abs(compare::crete_blur(drawn([](int x, int y) { return (x / 9 * 37 + y / 7 * 91) % 256; })) -
                   .181818) < 1e-3);
    CHECK(std::abs(compare::crete_blur(drawn(
                       [](int x, int y) { return triangle(x * 3 + y, 64) * 5 + triangle(y * 7, 48) * 3; })) -
                   .524801) < 1e-3);
    CHECK(std::abs(compare::crete_blur(drawn([](int x, int y) {
                     const int at = x * 5 + y * 2;
                     return triangle(at, 128) * 4 - (at % 128 == 0);
                   })) -
                   .865386) < 1e-3);
  }

  // The same call on the pictures of python3-skimage themselves.
  TEST_CASE("the blur effect agrees with scikit-image within .001 on photographs") {
    const char* home = std::getenv("HOME");
    const char* named = std::getenv("BURSTSIEVE_TEST_DATA");
    const std::string folder =
        (named ? std::string(named) : std::string(home ? home : "") + "/.cache/burstsieve-test-data") +
        "/python3-skimage/usr/lib/python3/dist-packages/skimage/data/";
    const std::pair<const char*, double> golden[] = {{"camera.png", .288475},
                                                     {"grass.png", .228478},
                                                     {"gravel.png", .277272},
                                                     {"brick.png", .333415},
                                                     {"coins.png", .335183}};
    for (const auto& [name, value] : golden) {
      if (!std::filesystem::exists(folder + name)) {
        MESSAGE("not fetched, nothing checked: " << folder << name << " (run tools/test-data.sh)");
        continue;
      }
      CAPTURE(std::string(name));
      CHECK(std::abs(compare::crete_blur(cv::imread(folder + name, cv::IMREAD_GRAYSCALE)) - value) < 1e-3);
    }
  }

  // Noise gains of the kernels for white noise of standard deviation s: 20 s² and 24 s².
  TEST_CASE("white noise has the energy that the kernels' squared sums give it") {
    const cv::Mat flat = noisy(cv::Mat(512, 512, CV_8U, cv::Scalar(128)), 8);
    const double variance = 64 + 1.0 / 12;  // rounding to whole codes
    CHECK(compare::laplacian_variance(flat) == doctest::Approx(20 * variance).epsilon(.03));
    CHECK(compare::tenengrad(flat) == doctest::Approx(24 * variance).epsilon(.03));
    CHECK(std::abs(compare::tenengrad_without_noise(flat)) < .06 * 24 * variance);
  }

  TEST_CASE("each one falls when a picture without noise is blurred more") {
    const cv::Mat sharp = drawn([](int x, int y) { return (x / 9 * 37 + y / 7 * 91) % 256; });
    for (const auto& measure : compare::published()) {
      CAPTURE(std::string(measure.name));
      double last = 1e30;
      for (const double sigma : {.5, 1.0, 2.0, 4.0}) {
        cv::Mat soft;
        cv::GaussianBlur(sharp, soft, {}, sigma);
        const double value = measure.lower_is_sharper ? -measure.value(soft) : measure.value(soft);
        CHECK(value < last);
        last = value;
      }
    }
  }
}
