// A mask keeps the edges of what is behind the animal out of its sharpness, and the animal's own in.
#include "own_edges.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/measure/detail.h"

using namespace burstsieve;
using measure::OwnEdges;

namespace {

constexpr int kWide = 900, kHigh = 600;
const Region kBird{.3, .3, .4, .4};

bool in_bird(double x, double y, double grown = 0) {
  const double dx = (x - .5) / (.2 + grown), dy = (y - .5) / (.2 + grown);
  return dx * dx + dy * dy < 1;
}

// The ellipse, on a grid over the box and a rim; `grown` makes it too large or too small.
CellMask ellipse_mask(double grown = 0, double confidence = .9) {
  CellMask out{100, 100, std::vector<std::uint8_t>(10'000), {.25, .25, .5, .5}, confidence};
  for (int y = 0; y < 100; ++y)
    for (int x = 0; x < 100; ++x)
      out.cells[static_cast<std::size_t>(y * 100 + x)] =
          in_bird(.25 + .5 * (x + .5) / 100, .25 + .5 * (y + .5) / 100, grown);
  return out;
}

// Bars of two greys; the bird's stand upright, those behind lie.
cv::Mat1f bars(double period, bool upright_bars, float low, float high) {
  cv::Mat1f out(kHigh, kWide);
  for (int y = 0; y < kHigh; ++y)
    for (int x = 0; x < kWide; ++x)
      out(y, x) = std::fmod((upright_bars ? x : y) / period + .123, 1.0) < .5 ? low : high;
  return out;
}

cv::Mat blurred(const cv::Mat1f& m, double sigma) {
  cv::Mat out = m;
  if (sigma > 0) cv::GaussianBlur(m, out, {}, sigma);
  return out;
}

// Linear light; the bird's outline is as blurred as the bird.
cv::Mat scene(const cv::Mat1f& bird, double bird_sigma, const cv::Mat1f& behind, double behind_sigma) {
  cv::Mat1f cover(kHigh, kWide);
  for (int y = 0; y < kHigh; ++y)
    for (int x = 0; x < kWide; ++x) cover(y, x) = in_bird((x + .5) / kWide, (y + .5) / kHigh);
  const cv::Mat1f soft = blurred(cover, bird_sigma), front = blurred(bird, bird_sigma),
                  back = blurred(behind, behind_sigma);
  cv::RNG rng(3);
  cv::Mat1b out(kHigh, kWide);
  for (int y = 0; y < kHigh; ++y)
    for (int x = 0; x < kWide; ++x) {
      const float light = soft(y, x) * front(y, x) + (1 - soft(y, x)) * back(y, x);
      // IEC 61966-2-1, from memory.
      const double code = light <= .0031308f ? 12.92 * static_cast<double>(light)
                                             : 1.055 * std::pow(static_cast<double>(light), 1 / 2.4) - .055;
      out(y, x) = cv::saturate_cast<std::uint8_t>(255 * code + rng.gaussian(.7));
    }
  return out;
}

measure::EdgeBlur blur_of(const cv::Mat& luma, const CellMask* mask, int orientation = 1) {
  return measure::edge_blur(
      measure::gather_detail(luma, image::activity_map(luma), orientation, kBird, mask));
}

const cv::Mat1f kPlain(kHigh, kWide, .5f);

}  // namespace

TEST_SUITE("measure/own_edges") {
  TEST_CASE("a soft bird before a sharp background reads as soft as it is") {
    const cv::Mat luma = scene(bars(60, true, .25f, .6f), 3, bars(40, false, .05f, .5f), .7);
    const CellMask mask = ellipse_mask();
    const auto without = blur_of(luma, nullptr), with = blur_of(luma, &mask);
    CHECK(without.sigma < 1.5);
    CHECK(with.sigma == doctest::Approx(3).epsilon(.2));
    CHECK(with.confidence > .3);
  }

  TEST_CASE("so it does when the mask is a cell or two too large or too small") {
    const cv::Mat luma = scene(bars(60, true, .25f, .6f), 3, bars(40, false, .05f, .5f), .7);
    for (const double grown : {-.01, .005, .01}) {
      const CellMask mask = ellipse_mask(grown);
      CAPTURE(grown);
      CHECK(blur_of(luma, &mask).sigma == doctest::Approx(3).epsilon(.25));
    }
  }

  TEST_CASE("a sharp bird before a soft background stays as sharp as it is") {
    const cv::Mat luma = scene(bars(60, true, .15f, .6f), 1, bars(80, false, .1f, .4f), 8);
    const CellMask mask = ellipse_mask();
    CHECK(blur_of(luma, &mask).sigma == doctest::Approx(1).epsilon(.15));
    CHECK(blur_of(luma, &mask).sigma == doctest::Approx(blur_of(luma, nullptr).sigma).epsilon(.1));
  }

  TEST_CASE("the outline counts when it is the bird's only edge, also beside a mask a little too small") {
    for (const double grown : {-.006, 0., .006}) {
      const CellMask mask = ellipse_mask(grown);
      const cv::Mat luma = scene(kPlain, 1.5, cv::Mat1f(kHigh, kWide, .1f), 0);
      CAPTURE(grown);
      const auto blur = blur_of(luma, &mask);
      CHECK(blur.confidence > .3);
      CHECK(blur.sigma == doctest::Approx(1.5).epsilon(.15));
    }
  }

  TEST_CASE("a mask without trust, or none, changes nothing") {
    const cv::Mat luma = scene(bars(60, true, .25f, .6f), 3, bars(40, false, .05f, .5f), .7);
    const CellMask doubted = ellipse_mask(0, .2), none;
    CHECK(blur_of(luma, &doubted).sigma == blur_of(luma, nullptr).sigma);
    CHECK(blur_of(luma, &none).sigma == blur_of(luma, nullptr).sigma);
  }

  TEST_CASE("a picture on its side gives the same answer") {
    const cv::Mat luma = scene(bars(60, true, .25f, .6f), 3, bars(40, false, .05f, .5f), .7);
    const CellMask mask = ellipse_mask();
    cv::Mat stored;
    cv::rotate(luma, stored, cv::ROTATE_90_COUNTERCLOCKWISE);  // EXIF 6: to be turned clockwise
    CHECK(blur_of(stored, &mask, 6).sigma == doctest::Approx(blur_of(luma, &mask).sigma).epsilon(.05));
  }

  TEST_CASE("beside the outline only edges along it are the animal's") {
    const OwnEdges own(ellipse_mask(), 1, {kWide, kHigh});
    REQUIRE(own.known());
    const double right = .7 * kWide;  // where the ellipse ends
    CHECK(own.holds(450, 300, 0, 1));
    CHECK(own.holds(right + 2, 300, 1, 0));
    CHECK(own.holds(right + 2, 300, -1, .2f));
    CHECK_FALSE(own.holds(right + 2, 300, 0, 1));
    CHECK_FALSE(own.holds(right + 14, 300, 1, 0));
    CHECK_FALSE(own.holds(-5, -5, 1, 0));
    CHECK(own.share_of({400, 280, 64, 64}) == 1);
    CHECK(own.share_of({0, 0, 64, 64}) == 0);
    CHECK(OwnEdges().holds(1, 1, 0, 0));
  }
}
