#include "burstsieve/report/interval.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace burstsieve::report;

TEST_SUITE("report/interval") {
  // R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17
  // (1998), the examples of his comparison, method 3 (from memory); solving |p - q| = z sqrt(q (1 - q) / n)
  // by bisection gives the same four digits.
  TEST_CASE("Wilson's interval against published values") {
    const struct {
      double lost, asked, low, high;
    } published[] = {
        {81, 263, .2553, .3662}, {15, 148, .0624, .1605}, {0, 20, 0, .1611}, {1, 29, .0061, .1718}};
    for (const auto& p : published) {
      const Interval i = wilson(p.lost, p.asked);
      CHECK(std::abs(i.low - p.low) < 6e-5);
      CHECK(std::abs(i.high - p.high) < 6e-5);
    }
    CHECK(wilson(0, 0).low == 0);
    CHECK(wilson(0, 0).high == 1);
    CHECK(wilson(29, 29).high == 1);
  }

  TEST_CASE("frames of a burst that are all alike count as one, independent ones for themselves") {
    // By hand: p = .5, mean square between bursts 1, within 1/9, size 4: (1 - 1/9) / (1 + 3/9) = 2/3.
    CHECK(burst_likeness({{{4, 4}, {4, 0}, {4, 2}}}) == doctest::Approx(2.0 / 3));
    // Whole bursts lost or whole bursts sound.
    const GroupParts whole{{10, 10}, {10, 0}, {10, 10}, {10, 0}};
    CHECK(burst_likeness({whole}) == doctest::Approx(1));
    const Interval wide = burst_interval(whole, 1), four = wilson(2, 4);
    CHECK(wide.low == doctest::Approx(four.low));
    CHECK(wide.high == doctest::Approx(four.high));
    // Every burst half lost: more alike across bursts than chance would have it.
    const GroupParts even{{10, 5}, {10, 5}, {10, 5}, {10, 5}};
    CHECK(burst_likeness({even}) == 0);
    CHECK(burst_interval(even, 0).low == doctest::Approx(wilson(20, 40).low));
    // What sets groups apart is no likeness of bursts.
    CHECK(burst_likeness({{{10, 9}, {10, 8}}, {{10, 2}, {10, 1}}}) < .1);
    CHECK(burst_likeness({{{10, 9}, {10, 8}, {10, 2}, {10, 1}}}) > .4);
    // One burst tells nothing about others.
    CHECK(burst_likeness({{{40, 20}}}) == 1);
    CHECK(burst_interval({{40, 20}}, 1).low < .1);
    CHECK(burst_interval({}, 0).high == 1);
  }

  // Of the normal distribution itself: the values at equal shares of it stand for a sample.
  TEST_CASE("a censored normal distribution is found again behind the clip") {
    CHECK(normal_quantile(.975) == doctest::Approx(1.959964).epsilon(1e-6));
    for (const double mean : {.5, 0.0, -.4}) {
      std::vector<double> above;
      std::size_t below = 0;
      for (int i = 0; i < 400; ++i) {
        const double v = mean + .5 * normal_quantile((i + .5) / 400);
        if (v > 0)
          above.push_back(v);
        else
          ++below;
      }
      const CensoredNormal found = censored_normal(above, below);
      REQUIRE(found.known);
      CHECK(std::abs(found.mean - mean) < .02);
      CHECK(std::abs(found.sd - .5) < .02);
    }
    CHECK_FALSE(censored_normal({.4}, 60).known);
    CHECK(censored_normal({.4, .4, .4}, 0).sd == .05);
  }
}
