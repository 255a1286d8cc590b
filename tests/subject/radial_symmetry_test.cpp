#include "burstsieve/subject/radial_symmetry.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

using namespace burstsieve;

namespace {

const cv::Point2d kDiscAt{40.3, 33.6};

// An antialiased disc of that contrast (negative: brighter) on .6.
cv::Mat disc(double radius, double contrast) {
  cv::Mat out(72, 80, CV_32F);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) {
      const double d = std::hypot(x - kDiscAt.x, y - kDiscAt.y) - radius;
      out.at<float>(y, x) = static_cast<float>(.6 - contrast / (1 + std::exp(4 * d)));
    }
  return out;
}

double peak(const cv::Mat& m, cv::Point* at = nullptr) {
  double top = 0;
  cv::minMaxLoc(m, nullptr, &top, nullptr, at);
  return top;
}

}  // namespace

// Loy and Zelinsky (2003): the transform of radius n peaks at the centre of a disc of that radius.
TEST_SUITE("subject/radial_symmetry") {
  TEST_CASE("a dark disc shows at its centre, strongest at its own radius") {
    for (const int radius : {3, 5, 8}) {
      CAPTURE(radius);
      cv::Point at;
      const double own = peak(subject::dark_symmetry(disc(radius, .4), radius, .01f), &at);
      CHECK(std::hypot(at.x - kDiscAt.x, at.y - kDiscAt.y) <= 1);
      CHECK(own > 2 * peak(subject::dark_symmetry(disc(radius, .4), radius + 3, .01f)));
      if (radius > 3) CHECK(own > 2 * peak(subject::dark_symmetry(disc(radius, .4), radius - 3, .01f)));
    }
  }

  TEST_CASE("in proportion to contrast; blind to bright discs and to what is weaker than asked") {
    const double one = peak(subject::dark_symmetry(disc(5, .2), 5, .001f));
    CHECK(one > 0);
    CHECK(peak(subject::dark_symmetry(disc(5, .4), 5, .002f)) == doctest::Approx(2 * one).epsilon(1e-4));
    const cv::Mat bright = subject::dark_symmetry(disc(5, -.2), 5, .001f);
    CHECK(peak(bright(cv::Rect(37, 31, 7, 7))) < .05 * one);
    CHECK(peak(subject::dark_symmetry(disc(5, .2), 5, 1)) == 0);
  }

  TEST_CASE("a quarter turn of the picture turns the answer") {
    cv::Mat turned, back;
    cv::rotate(disc(4, .3), turned, cv::ROTATE_90_CLOCKWISE);
    cv::rotate(subject::dark_symmetry(turned, 4, .01f), back, cv::ROTATE_90_COUNTERCLOCKWISE);
    CHECK(cv::norm(back, subject::dark_symmetry(disc(4, .3), 4, .01f), cv::NORM_INF) < 1e-4);
  }

  TEST_CASE("a straight edge is next to nothing") {
    cv::Mat edge(64, 64, CV_32F, cv::Scalar(.6));
    edge.colRange(0, 32).setTo(.2);
    cv::GaussianBlur(edge, edge, {}, .7);
    CHECK(peak(subject::dark_symmetry(edge, 5, .01f)) <
          .15 * peak(subject::dark_symmetry(disc(5, .4), 5, .01f)));
  }

  TEST_CASE("empty, tiny and foreign pictures") {
    CHECK(subject::dark_symmetry({}, 5, .1f).empty());
    CHECK(subject::dark_symmetry(cv::Mat(9, 9, CV_8U, cv::Scalar(3)), 5, .1f).empty());
    CHECK(subject::dark_symmetry(disc(5, .2), 0, .1f).empty());
    for (const cv::Size size : {cv::Size(1, 1), {1, 50}, {2, 2}, {3, 3}}) {
      const cv::Mat out = subject::dark_symmetry(cv::Mat(size, CV_32F, cv::Scalar(.5)), 5, .1f);
      CHECK(out.size() == size);
      CHECK(cv::countNonZero(out) == 0);
    }
  }
}
