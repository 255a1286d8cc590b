// Damage that libjpeg does not notice, planted and absent. What it does to real files:
// tests/pipeline/mutants_test.cpp.
#include "../../src/decode/drift.h"

#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

using namespace burstsieve::decode;

namespace {

// Blurred noise: slopes and texture in every direction.
cv::Mat scene_of(int width, int height, unsigned seed) {
  cv::Mat noise(height, width, CV_8U);
  cv::RNG random(seed);
  random.fill(noise, cv::RNG::UNIFORM, 0, 256);
  cv::Mat out;
  cv::GaussianBlur(noise, out, {}, 3);
  cv::normalize(out, out, 40, 200, cv::NORM_MINMAX);
  return out;
}

// As a decoder draws it: every unit from (row, column) on is off by `levels`.
void drift_from(cv::Mat& plane, cv::Size mcu, int row, int column, int levels) {
  plane(cv::Rect(column * mcu.width, row * mcu.height, plane.cols - column * mcu.width, mcu.height)) +=
      levels;
  plane.rowRange((row + 1) * mcu.height, plane.rows) += levels;
}

const cv::Size kUnit{16, 16};

}  // namespace

TEST_SUITE("decode/drift") {
  TEST_CASE("a drift is found in its row, up or down, early or late in the row") {
    for (const int levels : {5, 12, -7, -40})
      for (const int column : {3, 20, 37}) {
        CAPTURE(levels);
        CAPTURE(column);
        cv::Mat plane = scene_of(640, 480, 5);
        drift_from(plane, kUnit, 9, column, levels);
        const auto row = drift_row(plane, kUnit);
        REQUIRE(row);
        CHECK(std::abs(*row - 9 * 16) <= 16);
      }
  }

  TEST_CASE("none in whole pictures, not even with a level horizon or a border on the grid of units") {
    for (unsigned seed = 1; seed <= 20; ++seed) CHECK_FALSE(drift_row(scene_of(640, 480, seed), kUnit));
    cv::Mat horizon = scene_of(640, 480, 3);
    horizon.rowRange(250, 480) += 30;  // inside a unit
    CHECK_FALSE(drift_row(horizon, kUnit));
    cv::Mat border = scene_of(640, 480, 4);
    border.rowRange(0, 64).setTo(cv::Scalar(0));
    border.rowRange(416, 480).setTo(cv::Scalar(0));
    CHECK_FALSE(drift_row(border, kUnit));
  }

  TEST_CASE("too small to tell: nothing is said") {
    cv::Mat small = scene_of(160, 120, 1);
    drift_from(small, kUnit, 3, 4, 40);
    CHECK_FALSE(drift_row(small, kUnit));
    CHECK_FALSE(drift_row(cv::Mat(1, 1, CV_8U, cv::Scalar(0)), kUnit));
  }

  TEST_CASE("quantisation tables: the standard's example is whole, a flipped bit is not") {
    // ITU-T T.81 table K.1 (luminance), from memory.
    const std::array<std::uint16_t, 64> k1{
        16, 11,  10,  16, 24, 40, 51, 61, 12,  12,  14,  19,  26, 58, 60, 55,  14,  13,  16,  24, 40, 57,
        69, 56,  14,  17, 22, 29, 51, 87, 80,  62,  18,  22,  37, 56, 68, 109, 103, 77,  24,  35, 55, 64,
        81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98,  112, 100, 103, 99};
    CHECK_FALSE(table_is_torn(k1));
    auto torn = k1;
    torn[0] ^= 0x80;  // 16 becomes 144
    CHECK(table_is_torn(torn));
    torn = k1;
    torn[30] = 0;
    CHECK(table_is_torn(torn));
  }
}
