// What the comparison puts between sensor and pixels, and its numbered cases.
#include "rendering.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/transfer.h"
#include "cases.h"
#include "measure/targets.h"
#include "slanted_edge.h"
#include "tables.h"

using namespace burstsieve;
using namespace burstsieve::compare;

namespace {

Scene scene_of(const cv::Mat& colour) {
  cv::Mat linear;
  cv::transform(colour, linear, cv::Matx13f(.0722f, .7152f, .2126f));
  return {"test", linear, {.3, .3, .4, .4}, colour};
}

bool same(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && cv::norm(a, b, cv::NORM_INF) == 0;
}

}  // namespace

TEST_SUITE("compare/rendering") {
  // Rec. 601 luma of the sRGB-coded channels, by hand.
  TEST_CASE("an even colour comes through the mosaic as itself: pattern and white balance are right") {
    const cv::Mat colour(64, 64, CV_32FC3, cv::Scalar(.1, .3, .5));
    const auto coded = [](double v) { return 255 * (1.055 * std::pow(v, 1 / 2.4) - .055); };
    const double luma = .114 * coded(.1) + .587 * coded(.3) + .299 * coded(.5);
    for (const Mosaic mosaic : {Mosaic::none, Mosaic::bilinear, Mosaic::edge_aware}) {
      const cv::Mat out = rendered(scene_of(colour), {mosaic, 0, false}, 0, 1);
      CHECK(std::abs(out.at<std::uint8_t>(32, 31) - luma) <= 1.5);
      CHECK(std::abs(out.at<std::uint8_t>(31, 32) - luma) <= 1.5);
    }
  }

  TEST_CASE("subsampled chroma does not reach the luma, quality does") {
    const Scene scene = coloured_target(Target::edge, 1, 3);
    const auto through = [&](int quality, bool full) {
      return rendered(scene, {Mosaic::none, quality, full}, .01, 5);
    };
    CHECK(same(through(85, true), through(85, false)));
    CHECK_FALSE(same(through(85, true), through(95, true)));
  }

  // tools/sfr (ISO 12233) is the outside instrument: both for what demosaicing adds and for our reading of
  // it.
  TEST_CASE("what demosaicing blurs: as stated, and blur_sigma_px sees what the slanted edge sees") {
    for (const Mosaic mosaic : {Mosaic::bilinear, Mosaic::edge_aware})
      for (const double sigma : {.7, 1.0}) {
        for (const double degrees : {6.0, 20.0, 70.0}) {
          CAPTURE(sigma);
          CAPTURE(degrees);
          const Scene scene{"edge", targets::edge(512, sigma, degrees), {.3, .3, .4, .4}, {}};
          const cv::Mat luma = rendered(scene, {mosaic, 0, false}, 0, 1);
          const auto r = sfr::slanted_edge(image::linear(luma)(cv::Rect(196, 176, 120, 160)), {});
          REQUIRE(r);
          const double variance = std::pow(.187391 / r->mtf50, 2) - 1.0 / 12;
          CHECK(std::abs(variance - sigma * sigma - demosaic_variance(mosaic)) < .05);
          CHECK(std::abs(ours(luma, scene.region).sigma / std::sqrt(variance) - 1) < .02);
        }
      }
  }

  // Demosaiced noise looks like texture to who expects white noise; here nothing is quiet.
  TEST_CASE("texture from rim to rim, demosaiced, 6 % noise: within 15 %") {
    for (const unsigned seed : {2001u, 2002u})
      for (const double sigma : {1.4, 2.8}) {
        CAPTURE(seed);
        CAPTURE(sigma);
        Scene scene = coloured_target(Target::leaves, sigma, seed);
        scene.linear = scene.linear.rowRange(0, scene.linear.rows / 2).clone();
        scene.colour = scene.colour.rowRange(0, scene.colour.rows / 2).clone();
        scene.region = {.1, .1, .8, .8};
        const double known = std::sqrt(sigma * sigma + demosaic_variance(Mosaic::bilinear));
        const double measured =
            ours(rendered(scene, {Mosaic::bilinear, 92, false}, .06, seed), scene.region).sigma;
        CHECK(std::abs(measured / known - 1) <= .15);
      }
  }

  TEST_CASE("rounding to codes and the blocks of a JPEG are no edges: a smooth ramp shows nothing") {
    cv::Mat ramp(384, 384, CV_32F);
    for (int x = 0; x < ramp.cols; ++x) ramp.col(x) = .2 + .2 * x / ramp.cols;
    for (const Rendering& r :
         {Rendering{}, Rendering{Mosaic::none, 75, false}, Rendering{Mosaic::bilinear, 92, false}})
      for (const double noise : {0.0, .005})
        CHECK(ours(rendered({"ramp", ramp, {.1, .1, .8, .8}, {}}, r, noise, 3), {.1, .1, .8, .8}).confidence <
              .05);
  }

  TEST_CASE("a number stands for one case") {
    const Case a = blur_case(41), again = blur_case(41), other = blur_case(42);
    CHECK(same(a.luma, again.luma));
    CHECK(a.sigma == again.sigma);
    CHECK(a.sigma != other.sigma);
    for (std::uint64_t number = 43; number < 50; ++number) {
      const Case c = blur_case(number);
      CHECK((c.sigma >= .5 && c.sigma <= 5.1));
      CHECK((c.region.x >= 0 && c.region.y >= 0 && c.region.x + c.region.w <= 1 &&
             c.region.y + c.region.h <= 1));
    }
  }
}
