#include "score.h"

#include <doctest/doctest.h>

using namespace burstsieve;
using namespace burstsieve::subject_check;

namespace {
Subject box(double x, double w, double confidence) {
  return {{x, .2, w, .2}, std::nullopt, confidence, "test"};
}
}  // namespace

TEST_SUITE("subject-check/score") {
  TEST_CASE("a box counts for one animal, and one animal for one box") {
    const std::vector<Region> truth{{.1, .2, .2, .2}, {.6, .2, .05, .2}};
    Score s;
    // Two boxes on the first animal, none on the second, one beside both.
    add(s, truth, {box(.1, .2, .9), box(.11, .2, .8), box(.8, .1, .7)});
    CHECK(s.animals.all == 2);
    CHECK(s.animals.hit == 1);
    CHECK(s.boxes.all == 3);
    CHECK(s.boxes.hit == 1);
    CHECK(s.by_size[Size::medium].hit == 1);
    CHECK(s.by_size[Size::tiny].all == 1);
    CHECK(s.overlap_at(1) == doctest::Approx(1));
    CHECK(s.overlap_at(.5) == doctest::Approx(.5));
  }

  TEST_CASE("an overlap of .5 is found, of less is not") {
    // Same height: overlap is shared width / joint width.
    CHECK(matched({{0, .2, .2, .2}}, {box(0, .3999, 1)})[0].found);
    CHECK_FALSE(matched({{0, .2, .2, .2}}, {box(0, .41, 1)})[0].found);
  }

  TEST_CASE("pictures without an animal count what is said of them, and nothing else") {
    Score s;
    add(s, {}, {box(.1, .2, .9), box(.5, .2, .8)});
    add(s, {}, {});
    CHECK(s.empty.all == 2);
    CHECK(s.empty.hit == 1);
    CHECK(s.boxes.all == 0);
    CHECK(s.animals.all == 0);
  }

  TEST_CASE("the first subject may be any animal of the picture") {
    Score s;
    add_first(s, {{.1, .2, .4, .2}, {.7, .2, .1, .2}}, {box(.7, .1, .9)});
    add_first(s, {{.1, .2, .4, .2}}, {});
    CHECK(s.animals.all == 2);
    CHECK(s.animals.hit == 1);
    CHECK(s.by_size[Size::large].all == 2);
    CHECK(s.boxes.all == 1);
  }
}
