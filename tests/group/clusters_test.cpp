#include "../../src/group/clusters.h"

#include <doctest/doctest.h>

#include "burstsieve/group/pose.h"

using namespace burstsieve;

TEST_SUITE("group/clusters") {
  // Worked by hand: 0-1 .9, 2-3 .8, every other pair as given.
  TEST_CASE("average linkage joins what is alike on average, and numbers clusters as they appear") {
    group::LikenessTable t(4);
    t.set(0, 1, .9);
    t.set(2, 3, .8);
    t.set(0, 2, .7);
    t.set(0, 3, .1);
    t.set(1, 2, .7);
    t.set(1, 3, .1);
    CHECK(group::clusters(t, .85) == std::vector<int>{0, 0, 1, 2});
    CHECK(group::clusters(t, .5) ==
          std::vector<int>{0, 0, 1, 1});  // (.7 + .1 + .7 + .1) / 4 = .4 between them
    CHECK(group::clusters(t, .39) == std::vector<int>{0, 0, 0, 0});
    CHECK(group::clusters(group::LikenessTable(0), .5).empty());
    CHECK(group::clusters(group::LikenessTable(1), .5) == std::vector<int>{0});
  }
  TEST_CASE("a chain of small changes is not one group: its ends are not alike") {
    group::LikenessTable t(6);
    for (std::size_t i = 0; i < 6; ++i)
      for (std::size_t k = i + 1; k < 6; ++k) t.set(i, k, 1 - .15 * static_cast<double>(k - i));
    const auto c = group::clusters(t, .75);
    CHECK(c.front() != c.back());
    CHECK(c[0] == c[1]);
  }
}
