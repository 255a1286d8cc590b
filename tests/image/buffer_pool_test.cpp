#include "burstsieve/image/buffer_pool.h"

#include <doctest/doctest.h>

#include <thread>

namespace image = burstsieve::image;

TEST_SUITE("image/buffer_pool") {
  TEST_CASE("memory comes back and is used again, also from another thread") {
    image::drain_pool();
    const auto before = image::pool_state();
    cv::Mat a = image::pooled(1000, 3000, CV_8UC1);
    a.setTo(7);
    const uchar* where = a.data;
    CHECK(image::pool_state().in_use_bytes >= before.in_use_bytes + 3'000'000);
    std::thread([m = std::move(a)]() mutable { m.release(); }).join();
    a = cv::Mat();
    CHECK(image::pool_state().in_use_bytes == before.in_use_bytes);
    CHECK(image::pool_state().idle_bytes >= 3'000'000);
    const cv::Mat b = image::pooled(3000, 999, CV_8UC1);
    CHECK(b.data == where);
    CHECK(image::pool_state().allocations == before.allocations + 1);
  }
  TEST_CASE("two living pictures never share memory; a header copy keeps it alive") {
    cv::Mat a = image::pooled(100, 100, CV_8UC3);
    const cv::Mat view = a(cv::Rect(1, 1, 5, 5));
    a.setTo(cv::Scalar(1, 2, 3));
    a.release();
    cv::Mat b = image::pooled(100, 100, CV_8UC3);
    b.setTo(cv::Scalar(9, 9, 9));
    CHECK(view.at<cv::Vec3b>(2, 2) == cv::Vec3b(1, 2, 3));
  }
  TEST_CASE("idle memory is bounded and can be given back") {
    for (int i = 0; i < 3; ++i) {
      const cv::Mat a = image::pooled(20000, 5000 << i, CV_8UC1);
      CHECK(a.isContinuous());
    }
    CHECK(image::pool_state().idle_bytes <= (256u << 20));
    image::drain_pool();
    CHECK(image::pool_state().idle_bytes == 0);
  }
  TEST_CASE("nothing is a picture too") {
    CHECK(image::pooled(0, 0, CV_8UC1).empty());
    CHECK(image::pooled(0, 5, CV_8UC1).empty());
  }
}
