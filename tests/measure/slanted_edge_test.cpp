// The slanted-edge response against analytic edges.
#include "slanted_edge.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/detail.h"
#include "measure/targets.h"

using namespace burstsieve;

namespace {

// Edge of a blur whose integral across the edge is `rise` (0..1 of a distance in px), averaged over the
// pixel's box along its own row by 16 samples: the box is what makes the known answers, so it is integrated,
// not approximated by a Gaussian. degrees: the edge's tilt off the columns.
template <class Rise>
cv::Mat edge_of(cv::Size size, double degrees, Rise rise, double low = .1, double high = .6) {
  constexpr int kSamples = 16;
  cv::Mat out(size, CV_32F);
  const double a = degrees * std::numbers::pi / 180, c = std::cos(a), s = std::sin(a);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      double sum = 0;
      // The box along the normal, as the table of known answers has it.
      const double d = (x - size.width / 2.0 + .37) * c - (y - size.height / 2.0) * s;
      for (int i = 0; i < kSamples; ++i) sum += rise(d + (i + .5) / kSamples - .5);
      out.at<float>(y, x) = static_cast<float>(low + (high - low) * sum / kSamples);
    }
  return out;
}

auto gaussian_rise(double sigma) {
  return [sigma](double d) { return .5 * (1 + std::erf(d / (sigma * std::numbers::sqrt2))); };
}

cv::Mat noisy(const cv::Mat& image, double sd, unsigned seed) {
  cv::Mat noise(image.size(), CV_32F);
  cv::RNG rng(seed);
  rng.fill(noise, cv::RNG::NORMAL, 0, sd);
  return image + noise;
}

// Relative error; doctest's Approx adds 1 to the scale and would let small numbers off.
double error(double measured, double known) {
  return std::abs(measured / known - 1);
}

sfr::Response response_of(const cv::Mat& image) {
  const auto r = sfr::slanted_edge(image, {});
  REQUIRE(r);
  return *r;
}

}  // namespace

TEST_SUITE("measure/slanted_edge") {
  // Known answers: MTF of a Gaussian times the pixel's box, computed (Gaussian exp(-2 pi^2 s^2 f^2) times
  // sinc f, solved for .5).
  TEST_CASE("MTF50 of a Gaussian edge: bias up to 1 %, spread up to 1.5 % at 1 % noise") {
    struct Known {
      double sigma, mtf50;
    };
    for (const Known k : {Known{.5, .3231}, {.7, .2471}, {1, .1800}, {1.5, .1227}, {2, .0927}})
      for (const double degrees : {3.0, 5.0, 9.0}) {
        const cv::Mat clean = edge_of({80, 120}, degrees, gaussian_rise(k.sigma));
        CAPTURE(k.sigma);
        CAPTURE(degrees);
        CHECK(error(response_of(clean).mtf50, k.mtf50) <= .01);
        double sum = 0, squares = 0;
        constexpr int kSeeds = 24;
        for (unsigned seed = 1; seed <= kSeeds; ++seed) {
          const double m = response_of(noisy(clean, .01, seed)).mtf50;
          sum += m;
          squares += m * m;
        }
        const double mean = sum / kSeeds, sd = std::sqrt(std::max(0.0, squares / kSeeds - mean * mean));
        MESSAGE("sigma " << k.sigma << " at " << degrees << " degrees: clean "
                         << 100 * (response_of(clean).mtf50 / k.mtf50 - 1) << " %, noisy "
                         << 100 * (mean / k.mtf50 - 1) << " % +- " << 100 * sd / mean << " %");
        CHECK(error(mean, k.mtf50) <= .01);
        CHECK(sd / mean <= .015);
      }
  }

  TEST_CASE("the whole curve follows the Gaussian's") {
    const auto r = response_of(edge_of({80, 120}, 5, gaussian_rise(.8)));
    for (const double f : {.05, .1, .2, .3, .4, .5}) {
      const double pi = std::numbers::pi;
      const double known = std::exp(-2 * pi * pi * .64 * f * f) * std::sin(pi * f) / (pi * f);
      CAPTURE(f);
      CHECK(std::abs(sfr::response_at(r, f) - known) < .01);
    }
  }

  // |sinc(L f)| and the Airy-like disc: first zeros at 1/L and 1.2197/D (first zero of J1 over pi).
  TEST_CASE("nulls of motion and of a defocus disc within 2 %, also at 1 % noise") {
    for (const double size : {4.0, 6.0, 10.0, 20.0}) {
      const auto motion = [size](double d) { return std::clamp(d / size + .5, 0.0, 1.0); };
      const auto disc = [size](double d) {
        const double u = std::clamp(2 * d / size, -1.0, 1.0);
        return .5 + (u * std::sqrt(1 - u * u) + std::asin(u)) / std::numbers::pi;
      };
      for (const double noise : {0.0, .01}) {
        CAPTURE(size);
        CAPTURE(noise);
        const auto streak = response_of(noisy(edge_of({120, 160}, 5, motion), noise, 7));
        REQUIRE(streak.first_null);
        CHECK(error(*streak.first_null, 1 / size) <= .02);
        // The pixel's own box lowers the response of short streaks a little.
        CHECK(error(streak.mtf50, .60335 / size) <= (size < 6 ? .05 : .02));
        const auto soft = response_of(noisy(edge_of({120, 160}, 5, disc), noise, 8));
        REQUIRE(soft.first_null);
        CHECK(error(*soft.first_null, 1.2197 / size) <= .02);
      }
    }
  }

  TEST_CASE("a Gaussian has no null; the edge's angle is right, lying or standing, rising or falling") {
    for (const double degrees : {-12.0, -4.0, 4.0, 30.0}) {
      CAPTURE(degrees);
      const cv::Mat image = edge_of({80, 100}, degrees, gaussian_rise(1));
      const auto r = response_of(image);
      CHECK_FALSE(r.first_null);
      // The edge stands 90 degrees off its normal; the normal runs `degrees` clockwise in rows that run down.
      const double stands = degrees > 0 ? degrees - 90 + 180 : degrees + 90;
      const auto off = [](double a, double b) { return std::abs(std::remainder(a - b, 180)); };
      CHECK(off(r.edge_degrees, stands) < .1);
      const auto lying = response_of(image.t());
      CHECK(off(lying.edge_degrees, 90 - r.edge_degrees + 180) < .1);
      CHECK(error(lying.mtf50, r.mtf50) <= 1e-6);
      CHECK(error(response_of(.7 - image).mtf50, r.mtf50) <= 1e-3);
    }
  }

  TEST_CASE("what is no slanted edge is refused with a reason") {
    CHECK_FALSE(sfr::slanted_edge(cv::Mat(8, 8, CV_32F, cv::Scalar(.5)), {}));
    CHECK_FALSE(sfr::slanted_edge(cv::Mat(80, 80, CV_32F, cv::Scalar(.5)), {}));
    CHECK_FALSE(sfr::slanted_edge(edge_of({80, 80}, 0, gaussian_rise(1)), {}));
    CHECK_FALSE(sfr::slanted_edge(edge_of({40, 400}, 20, gaussian_rise(1)), {}));
    CHECK_FALSE(sfr::slanted_edge(edge_of({80, 80}, 5, gaussian_rise(1)), {9}));
  }

  // The mean edge profile against the standard's own instrument, on the same picture. The pixel's box is in
  // the response and not in blur_sigma_px, so it is divided out: sigma^2 = (.187391 / MTF50)^2 holds for a
  // Gaussian of variance sigma^2 + 1/12 near enough.
  TEST_CASE("blur_sigma_px agrees with the slanted edge within 2 %") {
    for (const double sigma : {.6, .7, 1.0, 1.4, 2.0, 2.8})
      for (const double degrees : {6.0, 20.0, 70.0}) {
        const cv::Mat image = targets::edge(512, sigma, degrees);
        const auto r = response_of(image(cv::Rect(196, 176, 120, 160)));
        const double by_edge = std::sqrt(std::pow(.187391 / r.mtf50, 2) - 1.0 / 12);
        const cv::Mat picture = targets::developed(image, 0, 0, 1);
        const auto detail =
            measure::gather_detail(picture, image::activity_map(picture), 1, {.3, .3, .4, .4});
        const double ours = measure::edge_blur(detail).sigma;
        CAPTURE(sigma);
        CAPTURE(degrees);
        CHECK(error(by_edge, sigma) <= .035);
        CHECK(error(ours, by_edge) <= .02);
      }
  }
}
