#include "poses.h"

#include <doctest/doctest.h>

using namespace burstsieve::season_check;

TEST_SUITE("season-check/poses") {
  // Worked out another way: from the counts of pairs, 2 (a d - b c) / ((a+b)(b+d) + (a+c)(c+d)) (Hubert &
  // Arabie 1985, from memory), as exact fractions.
  TEST_CASE("adjusted Rand index as the counts of pairs give it") {
    const std::vector<int> a{0, 0, 1, 1, 2, 2, 2, 0}, b{0, 0, 1, 2, 2, 2, 1, 0};
    CHECK(adjusted_rand_index(a, b) == doctest::Approx(3 / 7.0));
    const std::vector<int> c{0, 0, 0, 0, 1, 1, 1, 1}, d{0, 1, 0, 1, 0, 1, 0, 1};
    CHECK(adjusted_rand_index(c, d) == doctest::Approx(-1 / 6.0));
    CHECK(adjusted_rand_index(a, a) == doctest::Approx(1));
    const std::vector<int> one{7, 7, 7}, apart{1, 2, 3};
    CHECK(adjusted_rand_index(one, one) == doctest::Approx(1));
    CHECK(adjusted_rand_index(one, apart) == doctest::Approx(0));
  }
  TEST_CASE("pairs are counted inside bursts only") {
    const std::vector<Labelled> bursts{{{1, 1, 2}, {"up", "up", "up"}}, {{1, 2}, {"up", "down"}}};
    const PoseAgreement a = agreement(bursts);
    CHECK(a.together == 1);
    CHECK(a.together_right == 1);
    CHECK(a.same == 3);
    CHECK(a.same_found == 1);
    CHECK(a.mean_index == doctest::Approx(.5));  // 0 and 1
  }
}
