#include <doctest/doctest.h>

#include <limits>

#include "burstsieve/model/measure.h"

using namespace burstsieve;

TEST_SUITE("model/cell_mask") {
  TEST_CASE("a mask of the whole frame") {
    const CellMask m{2, 2, {1, 0, 0, 1}};
    CHECK(m.holds(0, 0));
    CHECK(m.holds(.99, .99));
    CHECK_FALSE(m.holds(.51, .49));
    CHECK_FALSE(m.holds(1, 1));
    CHECK_FALSE(m.holds(-.01, .2));
  }

  TEST_CASE("a mask of a part of it: nothing outside, the cells where they lie") {
    const CellMask m{2, 1, {1, 0}, {.5, .5, .1, .2}, .9};
    CHECK(m.holds(.5, .5));
    CHECK(m.holds(.549, .69));
    CHECK_FALSE(m.holds(.551, .6));
    CHECK_FALSE(m.holds(.49, .6));
    CHECK_FALSE(m.holds(.52, .71));
    CHECK_FALSE(m.holds(.1, .1));
  }

  TEST_CASE("nothing known, or nonsense: holds nothing") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK_FALSE(CellMask{}.holds(.5, .5));
    CHECK_FALSE(CellMask{1, 1, {1}, {.5, .5, 0, 0}}.holds(.5, .5));
    CHECK_FALSE(CellMask{1, 1, {1}, {nan, 0, 1, 1}}.holds(.5, .5));
    CHECK_FALSE(CellMask{1, 1, {1}}.holds(nan, .5));
  }
}
