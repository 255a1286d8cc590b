// Learning from choices: against closed forms, and on simulated photographers.
#include "burstsieve/rank/learning.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "season_of_taste.h"

using namespace burstsieve;
using rank::Feature;

namespace {

// `won` of `of` choices prefer the frame with more of the feature, each a pose of its own.
void add_pairs(std::vector<rank::ChoiceGroup>& out, Feature feature, double difference, int won, int of) {
  for (int i = 0; i < of; ++i) {
    rank::Choice c;
    c.difference[feature] = i < won ? difference : -difference;
    out.push_back({{c}, 1});
  }
}

rank::Considered frame_with(double blur, std::optional<double> human, std::optional<int> ours) {
  rank::Considered out;
  out.features[rank::kBlur] = {std::log2(blur), .1, true};
  out.human = human;
  out.ours = ours;
  return out;
}

double log2_blur(const rank::Choice& c) {
  return c.difference[rank::kBlur];
}

const std::vector<test::Photographer>& other_tastes() {
  using namespace rank;
  static const std::vector<test::Photographer> all{
      {"room in front", test::taste({{kRoomAhead, 3}, {kHeadShown, 1.5}, {kBlur, -.4}}), 8},
      {"raised wings", test::taste({{kWingsUp, 2}, {kBlur, -.5}}), 8},
      {"movement", test::taste({{kStreak, 1}, {kBackgroundStreak, 1}, {kBlur, -.5}}), 8},
      {"close", test::taste({{kSize, 4}, {kCut, 0}, {kBlur, -.5}}), 8},
      {"open shadows", test::taste({{kShadowsBlocked, -10}, {kBlur, -.4}}), 8},
      {"whole birds, far", test::taste({{kCut, -10}, {kSize, -4}, {kBlur, -.4}}), 8},
  };
  return all;
}

// Two whose taste differs from ours in what seldom differs inside a pose: there is little to gain, and
// learning must at least not lose.
const std::vector<test::Photographer>& near_tastes() {
  using namespace rank;
  static const std::vector<test::Photographer> all{
      {"whites first", test::taste({{kWhitesLost, -32}, {kWhitesRecover, -10}, {kBlur, -.4}}), 8},
      {"sharpness alone",
       test::taste({{kBlur, -2},
                    {kWhitesLost, 0},
                    {kWhitesRecover, 0},
                    {kCut, 0},
                    {kHeadShown, 0},
                    {kRoomAhead, 0},
                    {kWingsUp, 0}}),
       8},
  };
  return all;
}

struct Outcome {
  int seeds = 0, used = 0;
  test::Agreement before, after, worst{1, 1};
};

Outcome simulate(const test::Photographer& who, int seeds, int poses) {
  Outcome out;
  out.seeds = seeds;
  for (int s = 1; s <= seeds; ++s) {
    const auto seed = static_cast<std::uint64_t>(s);
    test::TasteDice dice(7919 * seed);
    const auto learnt = rank::learn(test::season_of_choices(who, 100, dice), rank::default_weights(), {});
    const auto before = test::agreement(who, std::nullopt, 1'000'003 + seed, poses);
    const auto after = learnt.in_use ? test::agreement(who, learnt.weights, 1'000'003 + seed, poses) : before;
    out.used += learnt.in_use;
    out.before.top += before.top / seeds, out.before.pairs += before.pairs / seeds;
    out.after.top += after.top / seeds, out.after.pairs += after.pairs / seeds;
    out.worst.top = std::min(out.worst.top, after.top - before.top);
    out.worst.pairs = std::min(out.worst.pairs, after.pairs - before.pairs);
  }
  return out;
}

// How many, and a table for docs/preferences.md, from the environment.
int seeds_or(int usual) {
  const char* many = std::getenv("BURSTSIEVE_TASTE_SEEDS");
  return many ? std::max(1, std::atoi(many)) : usual;
}
void tell(const test::Photographer& who, const Outcome& o) {
  if (!std::getenv("BURSTSIEVE_TASTE_SEEDS")) return;
  std::printf("| %s | %d of %d | %.1f -> %.1f (worst %+.1f) | %.1f -> %.1f (worst %+.1f) |\n", who.name,
              o.used, o.seeds, 100 * o.before.top, 100 * o.after.top, 100 * o.worst.top, 100 * o.before.pairs,
              100 * o.after.pairs, 100 * o.worst.pairs);
}

}  // namespace

TEST_SUITE("rank/choices") {
  TEST_CASE("a starred frame stands above the one we kept, the rejected and the unrated") {
    const auto g = rank::choices_of(std::vector{frame_with(1, {}, 4), frame_with(2, 5, {}),
                                                frame_with(4, {}, {}), frame_with(8, -1, {})});
    CHECK(g.overrides == 2);
    // The second above each other; and our keep, let stand, above the third and the fourth.
    REQUIRE(g.choices.size() == 5);
    double weight = 0;
    for (const auto& c : g.choices) weight += c.weight;
    CHECK(weight == doctest::Approx(2 * 2. / 3 + 3 * 2. / 4));
  }
  TEST_CASE("what is no choice: fewer stars than ours, a rating taken away, nothing kept") {
    CHECK(rank::choices_of(std::vector{frame_with(1, {}, 5), frame_with(2, 3, {})}).choices.empty());
    CHECK(rank::choices_of(std::vector{frame_with(1, 0, 5), frame_with(2, {}, {})}).choices.empty());
    CHECK(rank::choices_of(std::vector{frame_with(1, {}, {}), frame_with(2, {}, {})}).choices.empty());
    CHECK(rank::choices_of(std::vector{frame_with(1, -1, 5), frame_with(2, {}, {})}).choices.empty());
    CHECK(rank::choices_of(std::vector{frame_with(1, 3, {}), frame_with(2, 3, {})}).choices.empty());
    CHECK(rank::choices_of({}).choices.empty());
  }
  TEST_CASE("our keep that was let stand is an agreement; one made for a rejected keep is not") {
    const auto agreed = rank::choices_of(std::vector{frame_with(1, {}, 4), frame_with(2, {}, {})});
    REQUIRE(agreed.choices.size() == 1);
    CHECK(agreed.overrides == 0);
    CHECK(log2_blur(agreed.choices[0]) == doctest::Approx(-1));
    const auto after =
        rank::choices_of(std::vector{frame_with(1, -1, 5), frame_with(2, {}, 4), frame_with(4, {}, {})});
    CHECK(after.choices.empty());
  }
  TEST_CASE("a feature that is known of one frame only teaches nothing") {
    auto bare = frame_with(2, 5, {});
    bare.features[rank::kBlur].known = false;
    const auto g = rank::choices_of(std::vector{frame_with(1, {}, 4), bare});
    REQUIRE(g.choices.size() == 1);
    CHECK(log2_blur(g.choices[0]) == 0);
  }
}

TEST_SUITE("rank/learning") {
  TEST_CASE("two features, each with its own odds: the closed form of Bradley and Terry") {
    // log(w / (n - w)) / difference is the most probable weight of a feature alone.
    std::vector<rank::ChoiceGroup> groups;
    add_pairs(groups, rank::kBlur, -.5, 300, 400);      // odds of 3
    add_pairs(groups, rank::kHeadShown, .7, 200, 300);  // odds of 2
    const auto l = rank::learn(groups, rank::default_weights(), {100, 20, 2.5});
    CHECK(l.weights[rank::kHeadShown] / -l.weights[rank::kBlur] ==
          doctest::Approx((std::log(2) / .7) / (std::log(3) / .5)).epsilon(.01));
    CHECK(-l.scale * l.weights[rank::kBlur] == doctest::Approx(std::log(3) / .5).epsilon(.01));
    CHECK(l.overrides == 700);
    CHECK(l.informed[rank::kBlur] == 400);
    CHECK(l.informed[rank::kCut] == 0);
  }
  TEST_CASE("a strong prior holds, a weak one yields; without choices the base stands") {
    std::vector<rank::ChoiceGroup> groups;
    add_pairs(groups, rank::kWingsUp, -.3, 30, 40);
    add_pairs(groups, rank::kBlur, -.5, 35, 40);
    const auto held = rank::learn(groups, rank::default_weights(), {.001, 20, 2.5});
    for (std::size_t i = 0; i < rank::kFeatures; ++i)
      CHECK(std::abs(held.weights[i] - rank::default_weights()[i]) * rank::feature_specs()[i].spread < .01);
    CHECK(rank::learn(groups, rank::default_weights(), {1, 20, 2.5}).weights[rank::kWingsUp] < 0);
    const auto none = rank::learn({}, rank::default_weights(), {});
    CHECK((none.weights == rank::default_weights()));
    CHECK_FALSE(none.in_use);
  }
  TEST_CASE("no fault becomes a virtue and nothing leaves its bounds, however one-sided the choices") {
    for (std::size_t f = 0; f < rank::kFeatures; ++f)
      for (const double sign : {-1., 1.}) {
        std::vector<rank::ChoiceGroup> groups;
        add_pairs(groups, static_cast<Feature>(f), sign * 3 * rank::feature_specs()[f].spread, 200, 200);
        const auto l = rank::learn(groups, rank::default_weights(), {5, 20, 2.5});
        for (std::size_t i = 0; i < rank::kFeatures; ++i) {
          CHECK(std::isfinite(l.weights[i]));
          CHECK(l.weights[i] >= rank::feature_specs()[i].least);
          CHECK(l.weights[i] <= rank::feature_specs()[i].most);
        }
      }
  }
  TEST_CASE("the same choices give the same bits") {
    test::TasteDice a(5), b(5);
    const auto one =
        rank::learn(test::season_of_choices(other_tastes()[0], 60, a), rank::default_weights(), {});
    const auto two =
        rank::learn(test::season_of_choices(other_tastes()[0], 60, b), rank::default_weights(), {});
    CHECK((one.weights == two.weights));
    CHECK((one.uncertainty == two.uncertainty));
    CHECK(one.gain_sure == two.gain_sure);
  }
  TEST_CASE("too few ratings are not used, however clear they are") {
    test::TasteDice dice(9);
    CHECK_FALSE(rank::learn(test::season_of_choices(other_tastes()[1], 19, dice), rank::default_weights(), {})
                    .in_use);
  }
}

// 100 overrides, then poses not learnt from. BURSTSIEVE_TASTE_SEEDS=N for more seeds, and the table.
TEST_SUITE("rank/photographers") {
  TEST_CASE("another taste: agreement rises by ten points or more") {
    for (const auto& who : other_tastes()) {
      CAPTURE(who.name);
      const Outcome o = simulate(who, seeds_or(3), 150);
      tell(who, o);
      CHECK(o.after.top - o.before.top >= .10);
      CHECK(o.after.pairs - o.before.pairs >= .10);
      CHECK(o.worst.top >= 0);
      CHECK(o.worst.pairs >= 0);
    }
  }
  TEST_CASE("a taste near ours: little to gain, nothing to lose") {
    for (const auto& who : near_tastes()) {
      CAPTURE(who.name);
      const Outcome o = simulate(who, seeds_or(2), 150);
      tell(who, o);
      CHECK(o.after.pairs >= o.before.pairs);
      CHECK(o.worst.pairs >= -.01);
    }
  }
  TEST_CASE("our own taste, decided or not: never below the defaults") {
    for (const double decided : {2., 4., 8.}) {
      const test::Photographer who{"ours", rank::default_weights(), decided};
      CAPTURE(decided);
      const Outcome o = simulate(who, seeds_or(5), 60);
      tell(who, o);
      CHECK(o.worst.top >= 0);
      CHECK(o.worst.pairs >= 0);
      CHECK(o.used == 0);  // what is not used can't be worse
    }
  }
}
