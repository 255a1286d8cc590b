// Noise told from texture, and the parts of the profile fit.
#include "../../src/measure/noise_floor.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "../../src/measure/profile_fit.h"
#include "burstsieve/measure/detail.h"

using namespace burstsieve;

TEST_SUITE("measure/noise_floor") {
  TEST_CASE("white noise is all noise, blurred texture hardly any") {
    // Gains of the Gaussian derivatives for white noise: 2 / (8 pi t^4).
    const auto white = measure::without_texture(.0796, .0796 / 16, 1);
    CHECK(white.fine == doctest::Approx(.0796));
    CHECK(white.coarse == doctest::Approx(.0796 / 16));
    const auto texture = measure::without_texture(1, .5, 0);  // 2 : 1, and nothing at the highest frequencies
    CHECK(texture.fine == 0);
    const auto both = measure::without_texture(1 + .0796, .5 + .0796 / 16, 1);
    CHECK(both.fine == doctest::Approx(.0796));
    CHECK(measure::without_texture(0, 0, 0).fine == 0);
  }

  TEST_CASE("the variance of white noise is found, and a ramp has none") {
    cv::Mat noise(128, 128, CV_32F), ramp(128, 128, CV_32F);
    cv::theRNG().state = 5;
    cv::randn(noise, .5, .02);
    for (int x = 0; x < ramp.cols; ++x) ramp.col(x) = .01f * static_cast<float>(x);
    const cv::Rect all(0, 0, 128, 128);
    CHECK(measure::white_variance(noise, all) == doctest::Approx(4e-4).epsilon(.05));
    CHECK(measure::white_variance(ramp, all) < 1e-9);
  }

  // Gains worked out from the kernels: [1 2 1] x [1 2 1] / 16 on white noise, as bilinear demosaicing
  // averages, leaves the second difference along both axes less than a twentieth of what it leaves the fine
  // gradient.
  TEST_CASE("the noise's colour: 1 for white noise and for texture, tens for smoothed noise") {
    cv::Mat white(512, 512, CV_32F), smooth, texture;
    cv::theRNG().state = 9;
    cv::randn(white, .5, .02);
    cv::sepFilter2D(white, smooth, CV_32F, cv::Mat(cv::Matx13f(.25f, .5f, .25f)),
                    cv::Mat(cv::Matx13f(.25f, .5f, .25f)));
    cv::GaussianBlur(white, texture, {}, 2.5);
    const auto colour_of = [](const cv::Mat& image) {
      const auto energy = [&](double t) {  // Gaussian derivatives by differences of a smoothed picture
        cv::Mat soft, x, y;
        cv::GaussianBlur(image, soft, {}, t);
        cv::filter2D(soft, x, CV_32F, cv::Mat(cv::Matx13f(-.5f, 0, .5f)));
        cv::filter2D(soft, y, CV_32F, cv::Mat(cv::Matx31f(-.5f, 0, .5f)));
        return cv::Mat(x.mul(x) + y.mul(y));
      };
      const cv::Mat fine = energy(measure::kFineScale), coarse = energy(measure::kCoarseScale);
      std::vector<measure::GrainCell> cells;
      for (int y = 16; y + 32 <= image.rows; y += measure::kGrainCell)
        for (int x = 16; x + 32 <= image.cols; x += measure::kGrainCell) {
          const cv::Rect r(x, y, measure::kGrainCell, measure::kGrainCell);
          cells.push_back({cv::mean(fine(r))[0], cv::mean(coarse(r))[0], measure::white_variance(image, r)});
        }
      return measure::noise_colour(cells);
    };
    CHECK(colour_of(white) < 1.3);
    CHECK(colour_of(smooth) > 8);
    CHECK(colour_of(smooth) <= 30);
    CHECK(colour_of(texture) == 1);
    CHECK(measure::noise_colour({}) == 1);
  }

  TEST_CASE("the line over brightness never falls and never starts below zero") {
    const auto shot = measure::fit_line({.1, .3, .6}, {.2, .6, 1.2});
    CHECK(shot.at(.5) == doctest::Approx(1.0));
    CHECK(measure::fit_line({.1, .3, .6}, {1.2, .6, .3}).slope == 0);
    CHECK(measure::fit_line({.2, .4}, {.1, .9}).at(0) == 0);
    CHECK(measure::fit_line({}, {}).at(1) == 0);
  }

  TEST_CASE("a Gaussian bump gives its own variance, anything else nothing or a number") {
    for (const double variance : {1.2, 2.0, 5.0, 9.0}) {
      measure::HalfProfile half{};
      for (std::size_t u = 0; u < half.size(); ++u)
        half[u] = 3 * std::exp(-static_cast<double>(u * u) / (2 * variance));
      CHECK(measure::core_variance(half, 1.3) == doctest::Approx(variance).epsilon(.001));
    }
    CHECK(measure::core_variance({0, 0, 0, 0, 0, 0, 0}, 1.3) == 0);
    CHECK(measure::core_variance({1, 1, 1, 1, 1, 1, 1}, 1.3) == 0);
    CHECK(measure::core_variance({1, -1, 1, -1, 1, -1, 1}, 1.3) == 0);
    CHECK(measure::core_variance({1, 2, 3, 4, 5, 6, 7}, 1.3) == 0);
  }
}
