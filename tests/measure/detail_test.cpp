// Known-answer ladders for the edge measurement.
#include "burstsieve/measure/detail.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "burstsieve/image/activity.h"
#include "measure/targets.h"

using namespace burstsieve;

namespace {

// The target above a smooth sky: every outdoor frame has a quiet place where its noise can be seen.
cv::Mat over_sky(const cv::Mat& target) {
  cv::Mat sky(target.size(), CV_32F), out;
  for (int x = 0; x < sky.cols; ++x)
    sky.col(x) = .1f + .5f * static_cast<float>(x) / static_cast<float>(sky.cols);
  cv::vconcat(target, sky, out);
  return out;
}

measure::Detail detail_of(const cv::Mat& developed) {
  cv::setNumThreads(1);
  return measure::gather_detail(developed, image::activity_map(developed), 1, {.1, .05, .8, .4});
}

double sigma_of(const cv::Mat& target, double noise, unsigned seed, double gain = 1) {
  // Shot and read noise that together have this standard deviation at .3 of the clip.
  const double variance = noise * noise;
  return measure::edge_blur(
             detail_of(targets::developed(over_sky(target), .9 * variance / .3, .1 * variance, seed, gain)))
      .sigma;
}

}  // namespace

TEST_SUITE("measure/detail") {
  // The edge's true sigma is the golden value: the target is drawn by the error function, not by the code
  // under test.
  TEST_CASE("a step edge of known blur is measured within 10 % up to 2 % noise, 15 % at 6 %") {
    for (const double sigma : {.7, 1.0, 1.4, 2.0, 2.8, 4.0})
      for (const double degrees : {12.0, 45.0, 80.0})
        for (const double noise : {0.0, .02, .06}) {
          CAPTURE(sigma);
          CAPTURE(degrees);
          CAPTURE(noise);
          const double measured = sigma_of(targets::edge(512, sigma, degrees), noise, 3);
          CHECK(measured == doctest::Approx(sigma).epsilon(noise > .02 ? .15 : .10));
        }
  }

  TEST_CASE("dead leaves of known blur are measured within 10 % up to 2 % noise, 15 % at 6 %") {
    // Held out: nothing was tuned on these seeds. BURSTSIEVE_MANY_SEEDS=1 takes 25 instead of 2 (2 minutes).
    const unsigned seeds = std::getenv("BURSTSIEVE_MANY_SEEDS") ? 25 : 2;
    for (unsigned seed = 301; seed < 301 + seeds; ++seed)
      for (const double noise : {0.0, .02, .06})
        for (const double sigma : {.6, .8, 1.0, 1.4, 2.0, 2.8, 4.0}) {
          CAPTURE(seed);
          CAPTURE(noise);
          CAPTURE(sigma);
          const double measured = sigma_of(targets::leaves(384, sigma, seed), noise, seed);
          CHECK(measured == doctest::Approx(sigma).epsilon(noise > .02 ? .15 : .10));
        }
  }

  // The eye is a disc of 12 px radius, .8 px soft; breast and belly are blobs of low contrast, 5 px soft.
  TEST_CASE("one sharp eye on a smooth breast counts as sharp") {
    cv::Mat sharp(384, 384, CV_32F, cv::Scalar(0)), soft = targets::leaves(384, 5, 17) * .35 + .25;
    cv::Mat cover = sharp.clone();
    cv::circle(cover, {150, 170}, 12, cv::Scalar(1), cv::FILLED, cv::LINE_AA);
    cv::GaussianBlur(cover, cover, {}, .8);
    const cv::Mat scene = soft.mul(1 - cover) + cover * .03;
    for (const double noise : {0.0, .01}) CHECK(sigma_of(scene, noise, 4) < 1.2);
    CHECK(sigma_of(soft, .01, 4) > 3.5);
  }

  // The outline against the blown sky is cut off by the clip and looks sharp; what is below the clip is not.
  TEST_CASE("edges that run into the clip do not vouch for a soft bird") {
    cv::Mat scene = targets::leaves(384, 3, 23) * .6;
    const cv::Mat outline = targets::edge(384, 3, 20, 0, 4);  // far beyond the clip on one side
    scene = cv::max(scene, outline);
    CHECK(sigma_of(scene, .005, 6) == doctest::Approx(3).epsilon(.15));
  }

  TEST_CASE("exposure does not matter: +-2 EV changes the answer by less than 2 %") {
    const cv::Mat target = targets::leaves(384, 1.2, 5) * .24;
    const double base = sigma_of(target, .002, 9);
    for (const double gain : {.25, .5, 2.0, 4.0}) {
      CAPTURE(gain);
      CHECK(sigma_of(target, .002, 9, gain) == doctest::Approx(base).epsilon(.02));
    }
  }

  // The bar of the published comparison, with closer neighbours: steps of 10 % in sigma, noise varying
  // x.6-1.6 around 2 %. tools/compare counts 25 scenes of each.
  TEST_CASE("frames that differ by 10 % in blur are put in order when noise varies between them") {
    int right = 0, pairs = 0;
    for (unsigned seed = 1; seed <= 3; ++seed) {
      std::vector<double> measured;
      for (unsigned i = 0; i < 8; ++i) {
        const double sigma = .8 * std::pow(1.1, i);
        measured.push_back(sigma_of(targets::leaves(384, sigma, seed), i % 2 ? .012 : .032, seed * 31 + i));
      }
      for (std::size_t i = 0; i < measured.size(); ++i)
        for (std::size_t j = i + 1; j < measured.size(); ++j) right += measured[i] < measured[j], ++pairs;
    }
    CHECK(pairs == 84);
    CHECK(right == pairs);
  }

  TEST_CASE(
      "a streak blurs the edges across it and spares those along it, in the frame's upright direction") {
    const cv::Mat streaked = targets::streaked(targets::leaves(512, .8, 7), 8, 0);
    const auto detail = detail_of(targets::developed(over_sky(streaked), 1e-4, 1e-5, 3));
    const double along = measure::edge_blur(detail, 0).sigma, across = measure::edge_blur(detail, 6).sigma;
    CHECK(along > 1.5 * across);
    // The same picture stored on its side: what was horizontal in the sensor is vertical to the viewer.
    const cv::Mat on_side = targets::developed(over_sky(streaked), 1e-4, 1e-5, 3);
    const Region upright_region = upright(Region{.1, .05, .8, .4}, 6);
    const auto turned = measure::gather_detail(on_side, image::activity_map(on_side), 6, upright_region);
    CHECK(measure::edge_blur(turned, 6).sigma > 1.5 * measure::edge_blur(turned, 0).sigma);
  }

  TEST_CASE("nothing to see gives nothing: no edges, no confidence") {
    CHECK(measure::edge_blur(detail_of(cv::Mat(512, 512, CV_8U, cv::Scalar(128)))).confidence == 0);
    CHECK(measure::edge_blur(measure::Detail{}).confidence == 0);
    const auto noise_only =
        detail_of(targets::developed(cv::Mat(512, 512, CV_32F, cv::Scalar(.3)), 1e-3, 1e-4, 3));
    CHECK(measure::edge_blur(noise_only).confidence < .3);
  }
}
