#include "burstsieve/image/downscale.h"

#include <doctest/doctest.h>

namespace image = burstsieve::image;

TEST_SUITE("image/downscale") {
  TEST_CASE("fast block means equal the readable double loop over awkward sizes") {
    cv::RNG rng(7);
    for (const cv::Size& size :
         {cv::Size(1, 1), cv::Size(7, 9), cv::Size(8, 8), cv::Size(8193, 3), cv::Size(3, 8193),
          cv::Size(2047, 17), cv::Size(2049, 16), cv::Size(4100, 9)}) {
      cv::Mat plane(size, CV_8U);
      rng.fill(plane, cv::RNG::UNIFORM, 0, 256);
      for (const cv::Size& block : {cv::Size(8, 8), cv::Size(4, 8), cv::Size(4, 4), cv::Size(2, 8),
                                    cv::Size(8, 4), cv::Size(1, 1), cv::Size(5, 3), cv::Size(16, 16)}) {
        CAPTURE(size);
        CAPTURE(block);
        const cv::Mat fast = image::block_means(plane, block.width, block.height);
        const cv::Mat slow = image::block_means_slow(plane, block.width, block.height);
        REQUIRE(fast.size() == slow.size());
        CHECK(cv::norm(fast, slow, cv::NORM_INF) == 0);
      }
    }
  }
  TEST_CASE("a part of a larger plane is averaged as itself") {
    cv::Mat plane(100, 100, CV_8U);
    cv::randu(plane, 0, 256);
    const cv::Mat part = plane(cv::Rect(3, 5, 61, 44));
    CHECK(cv::norm(image::eighth(part), image::eighth(part.clone()), cv::NORM_INF) == 0);
  }
  TEST_CASE("white stays white, rounding is half up, nothing stays nothing") {
    const cv::Mat white(16, 16, CV_8U, cv::Scalar(255));
    CHECK(cv::norm(image::block_means(white, 16, 16), cv::Mat(1, 1, CV_8U, cv::Scalar(255)), cv::NORM_INF) ==
          0);
    const cv::Mat half = (cv::Mat_<uchar>(1, 2) << 3, 4);
    CHECK(image::block_means(half, 2, 1).at<uchar>(0, 0) == 4);
    CHECK(image::eighth(cv::Mat()).empty());
  }
}
