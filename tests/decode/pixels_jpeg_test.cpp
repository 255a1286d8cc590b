// decode_planes on JPEGs, against libjpeg-turbo's own programs.
#include <doctest/doctest.h>

#include <thread>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/downscale.h"
#include "jpeg_maker.h"

using namespace decode_test;
using burstsieve::Limits;
using burstsieve::decode::decode_planes;

namespace {

struct JpegCase {
  const char* name;
  JpegKind kind;
};

const std::vector<JpegCase>& kinds() {
  static const std::vector<JpegCase> all{
      {"444", {.h = 1, .v = 1}},
      {"422", {.h = 2, .v = 1}},
      {"420", {.h = 2, .v = 2}},
      {"440", {.h = 1, .v = 2}},
      {"411", {.h = 4, .v = 1}},
      {"410", {.h = 4, .v = 2}},
      {"grey", {.h = 1, .v = 1, .grey = true}},
      {"grey-sampled-2x2", {.h = 2, .v = 2, .grey = true}},
      {"progressive", {.h = 2, .v = 1, .progressive = true}},
      {"progressive-grey", {.h = 1, .v = 1, .grey = true, .progressive = true}},
      {"restarts", {.h = 2, .v = 2, .restart_rows = 1}},
      {"rgb", {.rgb = true}},
      {"odd-sampling-3x1", {.h = 3, .v = 1}},
  };
  return all;
}

const std::vector<cv::Size>& sizes() {
  static const std::vector<cv::Size> all{{1, 1}, {8, 8}, {7, 9}, {33, 17}, {250, 131}, {4096, 19}};
  return all;
}

}  // namespace

TEST_SUITE("decode/pixels jpeg") {
  TEST_CASE("luma is exactly libjpeg-turbo's own grey decode, for every layout and awkward size") {
    if (!have("djpeg")) {
      MESSAGE("djpeg is not installed (libjpeg-turbo-progs): not compared");
      return;
    }
    TempFolder folder;
    for (const JpegCase& c : kinds())
      for (const cv::Size& size : sizes()) {
        CAPTURE(c.name);
        CAPTURE(size);
        const auto file = folder.write("a.jpg", make_jpeg(scene(size.width, size.height), c.kind));
        const auto planes = decode_planes(file, 1, Limits{});
        REQUIRE(planes);
        CHECK(planes->damage == "");
        CHECK(planes->source == "jpeg");
        CHECK(planes->full_per_pixel == 1);
        const cv::Mat reference = djpeg(file.path, "-grayscale");
        REQUIRE(planes->luma.size() == reference.size());
        CHECK(cv::norm(planes->luma, reference, cv::NORM_INF) == 0);
        CHECK(planes->cb.empty() == c.kind.grey);
      }
  }

  TEST_CASE("the 1/8 images are the block means of the planes") {
    TempFolder folder;
    for (const JpegCase& c : kinds())
      for (const cv::Size& size : sizes()) {
        CAPTURE(c.name);
        CAPTURE(size);
        const auto planes = decode_planes(
            folder.write("a.jpg", make_jpeg(scene(size.width, size.height), c.kind)), 1, Limits{});
        REQUIRE(planes);
        CHECK(cv::norm(planes->luma8, burstsieve::image::block_means_slow(planes->luma, 8, 8),
                       cv::NORM_INF) == 0);
        if (c.kind.grey) continue;
        CHECK(planes->cb8.size() == planes->luma8.size());
        CHECK(planes->cr8.size() == planes->luma8.size());
        if (size.width < 30 || c.kind.rgb || c.kind.h == 3) continue;
        const int w = 8 / c.kind.h;
        const int h = 8 / c.kind.v;
        CHECK(cv::norm(planes->cb8, burstsieve::image::block_means_slow(planes->cb, w, h), cv::NORM_INF) ==
              0);
        CHECK(cv::norm(planes->cr8, burstsieve::image::block_means_slow(planes->cr, w, h), cv::NORM_INF) ==
              0);
      }
  }

  TEST_CASE("a colour crop is within 2 levels of djpeg, at the borders too") {
    if (!have("djpeg")) {
      MESSAGE("djpeg is not installed (libjpeg-turbo-progs): not compared");
      return;
    }
    TempFolder folder;
    for (const JpegCase& c : kinds()) {
      // libjpeg repeats chroma instead of interpolating it at these ratios.
      if (c.kind.h > 2) continue;
      CAPTURE(c.name);
      const auto file = folder.write("a.jpg", make_jpeg(scene(251, 133), c.kind));
      const auto planes = decode_planes(file, 1, Limits{});
      REQUIRE(planes);
      cv::Mat reference = djpeg(file.path, "");
      cv::cvtColor(reference, reference, reference.channels() == 1 ? cv::COLOR_GRAY2BGR : cv::COLOR_RGB2BGR);
      for (const burstsieve::Region& r :
           {burstsieve::Region{0, 0, 1, 1}, {.3, .4, .2, .3}, {.9, .9, .1, .1}, {0, .5, .011, .4}}) {
        const auto crop = burstsieve::decode::crop_colour(*planes, r);
        REQUIRE(!crop.bgr.empty());
        CHECK(cv::norm(crop.bgr, reference(crop.where), cv::NORM_INF) <= 2);
      }
    }
  }

  TEST_CASE("a reused buffer leaves nothing of the frame before") {
    TempFolder folder;
    const auto large = folder.write("large.jpg", make_jpeg(scene(640, 480, 1), {}));
    const auto small = folder.write("small.jpg", make_jpeg(scene(633, 471, 2), {}));
    const auto first = decode_planes(small, 1, Limits{});
    REQUIRE(first);
    const cv::Mat luma = first->luma.clone();
    const cv::Mat eighth = burstsieve::decode::eighth_colour(*first).clone();
    { const auto between = decode_planes(large, 1, Limits{}); }
    const auto again = decode_planes(small, 1, Limits{});
    REQUIRE(again);
    CHECK(cv::norm(again->luma, luma, cv::NORM_INF) == 0);
    CHECK(cv::norm(burstsieve::decode::eighth_colour(*again), eighth, cv::NORM_INF) == 0);
  }

  TEST_CASE("planes may be freed on another thread") {
    TempFolder folder;
    const auto file = folder.write("a.jpg", make_jpeg(scene(300, 200), {}));
    for (int i = 0; i < 8; ++i) {
      auto planes = decode_planes(file, 1, Limits{});
      REQUIRE(planes);
      std::thread([p = *std::move(planes)] { (void)p.luma.total(); }).join();
    }
  }

  TEST_CASE("a real camera file decodes whole") {
    const std::string path = test::data_cache() + "/exif/test/sony-alpha-6000.jpg";
    if (::access(path.c_str(), R_OK) != 0 || !have("djpeg")) {
      MESSAGE("test data not fetched (tools/test-data.sh) or no djpeg: not compared");
      return;
    }
    burstsieve::FileRef file;
    file.path = path;
    const auto planes = decode_planes(file, 1, Limits{});
    REQUIRE(planes);
    CHECK(planes->damage == "");
    CHECK(cv::norm(planes->luma, djpeg(path, "-grayscale"), cv::NORM_INF) == 0);
  }
}
