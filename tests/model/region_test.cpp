#include "burstsieve/model/region.h"

#include <doctest/doctest.h>

#include <cmath>

using burstsieve::Region;

namespace {
bool close(const Region& a, const Region& b) {
  const double d = 1e-12;
  return std::abs(a.x - b.x) < d && std::abs(a.y - b.y) < d && std::abs(a.w - b.w) < d &&
         std::abs(a.h - b.h) < d;
}
}  // namespace

TEST_SUITE("model/region") {
  TEST_CASE("upright and back is the identity for every orientation, known or not") {
    const Region r{.1, .2, .3, .05};
    for (int o = -1; o <= 10; ++o) {
      CAPTURE(o);
      CHECK(close(burstsieve::as_sensor(burstsieve::upright(r, o), o), r));
    }
  }

  // Exif 2.32 tag 0x0112: 6 = "the 0th row is the visual right-hand side, the 0th column the visual top".
  TEST_CASE("a mark at the sensor's top left lands where EXIF says") {
    const Region mark{0, 0, .1, .2};
    CHECK(close(burstsieve::upright(mark, 1), {0, 0, .1, .2}));
    CHECK(close(burstsieve::upright(mark, 2), {.9, 0, .1, .2}));
    CHECK(close(burstsieve::upright(mark, 3), {.9, .8, .1, .2}));
    CHECK(close(burstsieve::upright(mark, 4), {0, .8, .1, .2}));
    CHECK(close(burstsieve::upright(mark, 5), {0, 0, .2, .1}));
    CHECK(close(burstsieve::upright(mark, 6), {.8, 0, .2, .1}));
    CHECK(close(burstsieve::upright(mark, 7), {.8, .9, .2, .1}));
    CHECK(close(burstsieve::upright(mark, 8), {0, .9, .2, .1}));
  }

  TEST_CASE("clamp, grow and overlap") {
    CHECK(burstsieve::clamped({.9, .9, .5, .5}).right() == doctest::Approx(1));
    CHECK(burstsieve::clamped({1.2, 0, .5, .5}).empty());
    CHECK(burstsieve::grown({.4, .4, .2, .2}, 2).w == doctest::Approx(.4));
    CHECK(burstsieve::overlap({0, 0, .2, .2}, {.1, 0, .2, .2}) == doctest::Approx(1.0 / 3));
    CHECK(burstsieve::overlap({0, 0, .2, .2}, {.5, .5, .2, .2}) == 0);
    CHECK(burstsieve::share_inside({.1, .1, .2, .2}, {0, 0, .2, 1}) == doctest::Approx(.5));
    CHECK(burstsieve::share_inside({0, 0, 1, 1}, {.5, .5, .5, .5}) == doctest::Approx(.25));
    CHECK(burstsieve::share_inside({}, {0, 0, 1, 1}) == 0);
  }
}
