#include "targets.h"

#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

#include "optics.h"

using namespace burstsieve::generate;

TEST_CASE("an edge has the stated spread, place and levels") {
  for (double sigma : {.6, 1.0, 2.5}) {
    CAPTURE(sigma);
    const cv::Mat1f image = render_edge({81, 41}, sigma, 0, .6);
    // The line spread function's second moment is sigma^2 plus 1/12 of the differencing box.
    double sum = 0, first = 0, second = 0;
    for (int x = 0; x + 1 < image.cols; ++x) {
      const double d = image(20, x + 1) - image(20, x);
      sum += d, first += d * (x + 1.0), second += d * (x + 1.0) * (x + 1.0);
    }
    CHECK(sum == doctest::Approx(.6).epsilon(1e-5));
    CHECK(first / sum == doctest::Approx(40.5).epsilon(1e-5));
    CHECK(second / sum - std::pow(first / sum, 2) == doctest::Approx(sigma * sigma + 1.0 / 12).epsilon(.01));
  }
}

TEST_CASE("a positive angle turns the edge counter-clockwise as seen") {
  const cv::Mat1f image = render_edge({101, 101}, .7, 10, 1);
  const auto crossing = [&](int y) {
    int x = 0;
    while (image(y, x) < .5f) ++x;
    return x;
  };
  // The upper end leans to the left: 80 rows apart, tan(10 degrees) * 80 = 14.1 px.
  CHECK(crossing(90) - crossing(10) >= 13);
  CHECK(crossing(90) - crossing(10) <= 15);
}

TEST_CASE("dead leaves are repeatable, cover the frame and scale in frequency") {
  const cv::Mat1f a = render_dead_leaves({256, 256}, 4), b = render_dead_leaves({256, 256}, 4),
                  c = render_dead_leaves({256, 256}, 5);
  CHECK(cv::norm(a, b, cv::NORM_INF) == 0);
  CHECK(cv::norm(a, c, cv::NORM_INF) > .1);
  double low, high;
  cv::minMaxLoc(a, &low, &high);
  CHECK(low >= .049);
  CHECK(high <= .901);
  cv::Scalar mean, deviation;
  cv::meanStdDev(a, mean, deviation);
  CHECK(mean[0] == doctest::Approx(.475).epsilon(.25));  // middle of the uniform reflectances
  CHECK(deviation[0] > .12);
  CHECK(deviation[0] < .35);
}

TEST_CASE("sensor noise has the stated variance and no bias") {
  for (double x : {0.0, .1, .7}) {
    CAPTURE(x);
    const NoiseModel noise{2e-4, 1e-6};
    cv::Mat image(400, 500, CV_32F, cv::Scalar(x));
    add_sensor_noise(image, noise, 3);
    cv::Scalar mean, deviation;
    cv::meanStdDev(image, mean, deviation);
    const double variance = noise.shot * x + noise.read;
    CHECK(std::abs(mean[0] - x) < 4 * std::sqrt(variance / 200000));
    CHECK(deviation[0] * deviation[0] == doctest::Approx(variance).epsilon(.02));  // 6 standard errors
  }
}

TEST_CASE("a streak kernel has length, direction and weight") {
  for (double deg : {0.0, 30.0, 90.0, -45.0}) {
    CAPTURE(deg);
    const cv::Mat1f k = streak_kernel(9, deg);
    CHECK(cv::sum(k)[0] == doctest::Approx(1).epsilon(1e-5));
    double xx = 0, yy = 0, xy = 0;
    for (int y = 0; y < k.rows; ++y) {
      for (int x = 0; x < k.cols; ++x) {
        const double dx = x - k.cols / 2, dy = k.rows / 2 - y;  // y up
        xx += k(y, x) * dx * dx, yy += k(y, x) * dy * dy, xy += k(y, x) * dx * dy;
      }
    }
    // Length^2/12, plus at most a quarter of a pixel squared per axis from bilinear placing.
    CHECK(xx + yy >= 81.0 / 12 - .01);
    CHECK(xx + yy <= 81.0 / 12 + .5);
    const double angle = .5 * std::atan2(2 * xy, xx - yy) * 57.29577951308232;
    CHECK(std::abs(std::remainder(angle - deg, 180)) < 1);
  }
}

TEST_CASE("the tone curve is sRGB's") {
  CHECK(srgb_encode(0) == 0);
  CHECK(srgb_encode(1) == doctest::Approx(1));
  CHECK(255 * srgb_encode(.18) == doctest::Approx(117.65).epsilon(.0005));  // computed, 18 % grey
}
