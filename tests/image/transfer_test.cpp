#include "burstsieve/image/transfer.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

namespace image = burstsieve::image;

TEST_SUITE("image/transfer") {
  TEST_CASE("known values of the sRGB curve") {
    // 18 % grey is code 117.65 (ANCHORS: computed from the standard's formula elsewhere).
    CHECK(255 * image::srgb_of_linear(.18) == doctest::Approx(117.65).epsilon(1e-4));
    CHECK(image::linear_of_code()[0] == 0);
    CHECK(image::linear_of_code()[255] == 1);
    // IEC 61966-2-1: slope 12.92 near black.
    CHECK(image::linear_of_code()[10] == doctest::Approx(10 / 255. / 12.92));
  }
  TEST_CASE("every code survives the way to linear light and back") {
    for (int c = 0; c < 256; ++c)
      CHECK(image::code_of_linear(image::linear_of_code()[static_cast<std::size_t>(c)]) == c);
  }
  TEST_CASE("the curve rises, is joined without a gap, and swallows nonsense") {
    for (std::size_t c = 1; c < 256; ++c) CHECK(image::linear_of_code()[c] > image::linear_of_code()[c - 1]);
    CHECK(std::abs(image::linear_of_srgb(.04045) - image::linear_of_srgb(.0404501)) < 1e-6);
    CHECK(image::linear_of_srgb(-1) == 0);
    CHECK(image::linear_of_srgb(7) == 1);
    CHECK(image::srgb_of_linear(std::numeric_limits<double>::quiet_NaN()) == 0);
  }
  TEST_CASE("pictures go through the same table") {
    const cv::Mat m(1, 2, CV_8UC3, cv::Scalar(0, 128, 255));
    const cv::Vec3f v = image::linear(m).at<cv::Vec3f>(0, 1);
    CHECK(v[0] == 0);
    CHECK(v[1] == doctest::Approx(.21586).epsilon(1e-4));  // (128/255+.055)/1.055 ^ 2.4
    CHECK(v[2] == 1);
  }
}
