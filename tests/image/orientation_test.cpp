#include "burstsieve/image/orientation.h"

#include <doctest/doctest.h>

#include <array>

namespace image = burstsieve::image;

namespace {
cv::Mat picture() {
  // a b c
  // d e f
  return (cv::Mat_<uchar>(2, 3) << 'a', 'b', 'c', 'd', 'e', 'f');
}
std::string text(const cv::Mat& m) {
  std::string out;
  for (int y = 0; y < m.rows; ++y) {
    if (y) out += '/';
    for (int x = 0; x < m.cols; ++x) out += static_cast<char>(m.at<uchar>(y, x));
  }
  return out;
}
}  // namespace

TEST_SUITE("image/orientation") {
  // Worked by hand from Exif 2.32, tag 0x0112 ("the 0th row is at the visual ..., the 0th column ...").
  TEST_CASE("all eight orientations of a picture without symmetry") {
    const std::array<const char*, 9> expected{"",         "abc/def",  "cba/fed",  "fed/cba", "def/abc",
                                              "ad/be/cf", "da/eb/fc", "fc/eb/da", "cf/be/ad"};
    for (int o = 1; o <= 8; ++o) {
      CAPTURE(o);
      CHECK(text(image::upright(picture(), o)) == expected[static_cast<std::size_t>(o)]);
    }
    CHECK(text(image::upright(picture(), 0)) == "abc/def");
    CHECK(text(image::upright(picture(), 9)) == "abc/def");
  }

  TEST_CASE("turning never shares pixels and keeps empty empty") {
    const cv::Mat p = picture();
    CHECK(image::upright(p, 1).data != p.data);
    CHECK(image::upright(cv::Mat(), 6).empty());
  }

  TEST_CASE("a rectangle cut before turning is the rectangle cut after turning") {
    cv::Mat sensor(61, 97, CV_8U);
    cv::randu(sensor, 0, 256);
    for (int o = 1; o <= 8; ++o) {
      CAPTURE(o);
      const cv::Mat whole = image::upright(sensor, o);
      for (const cv::Rect& r : {cv::Rect(0, 0, 1, 1), cv::Rect(3, 7, 11, 29), cv::Rect(60, 60, 1, 1),
                                cv::Rect(0, 0, whole.cols, whole.rows), cv::Rect(5, 0, 2, whole.rows)}) {
        const cv::Rect s = image::as_sensor(r, whole.size(), o);
        CHECK(cv::norm(image::upright(sensor(s), o), whole(r), cv::NORM_INF) == 0);
      }
    }
  }
}
