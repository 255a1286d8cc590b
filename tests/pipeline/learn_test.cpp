// Learning from a catalogue: a season of invented poses, a photographer who changes ratings, and what comes
// of it.
#include "burstsieve/pipeline/learn.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <utility>
#include <vector>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "burstsieve/rank/learning.h"
#include "rank/season_of_taste.h"

using namespace burstsieve;

namespace {

// Every pose a burst of its own, all in one folder. Frames of one pose show the same picture.
struct Season {
  explicit Season(const test::Photographer& photographer) : who(photographer) {
    auto opened = Catalog::open(folder.at("catalog.sqlite"), 1);
    REQUIRE(opened);
    catalog.emplace(std::move(*opened));
  }

  void put(int number, const test::SeasonPose& pose, const std::vector<FrameVerdict>& ours) {
    std::vector<Frame> frames(pose.measured.size());
    std::vector<FrameFacts> facts = pose.measured;
    std::vector<PathVerdict> verdicts;
    for (std::size_t i = 0; i < frames.size(); ++i) {
      frames[i].jpeg.emplace().path = path(number, i);
      facts[i].pose.tile.resize(4096);
      for (std::size_t t = 0; t < 4096; ++t) facts[i].pose.tile[t] = static_cast<std::uint8_t>(t * t / 7);
      verdicts.push_back({path(number, i), ours[i]});
    }
    REQUIRE(catalog->store_burst("burst " + std::to_string(number), frames, facts));
    if (judged_before) REQUIRE(catalog->record_verdicts(1, verdicts));
  }
  static std::string path(int number, std::size_t i) { return fmt::format("/card/{:04}_{}.JPG", number, i); }

  // Goes through the card until so many frames are changed.
  void work(int overrides, std::uint64_t seed, const std::string& profile = kDefaultProfile) {
    test::TasteDice dice(seed);
    for (int made = 0; made < overrides; ++poses) {
      const auto pose = test::season_pose(dice);
      const auto ours = test::verdicts_of(pose, std::nullopt);
      const std::size_t top = test::top_of(test::liked_now(who, pose, dice));
      std::vector<rank::Considered> seen;
      for (std::size_t i = 0; i < ours.size(); ++i)
        seen.push_back({rank::features_of(pose.measured[i]), std::nullopt, ours[i].rating});
      put(poses, pose, ours);
      if (ours[top].verdict != Verdict::keep) {
        REQUIRE(catalog->record_override({path(poses, top), ours[top].rating, 5.0, "5", poses}, profile));
        seen[top].human = 5, ++made;
      }
      groups.push_back(rank::choices_of(seen));
    }
  }

  test::Photographer who;
  test::TempFolder folder{test::in_memory()};
  std::optional<Catalog> catalog;
  bool judged_before = true;
  int poses = 0;
  std::vector<rank::ChoiceGroup> groups;  // what should be found
};

test::Photographer lover_of_wings() {
  return {"raised wings", test::taste({{rank::kWingsUp, 2}, {rank::kBlur, -.5}}), 8};
}

}  // namespace

TEST_SUITE("pipeline/learn") {
  TEST_CASE("what is learnt from the catalogue is what the choices say, and it is kept") {
    Season s(lover_of_wings());
    s.work(60, 3);
    const auto lesson = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 5);
    REQUIRE_MESSAGE(lesson, lesson.error().line());
    CHECK(lesson->fresh);
    CHECK(lesson->unknown == 0);
    const rank::Learnt direct = rank::learn(s.groups, rank::default_weights(), {});
    CHECK((lesson->profile.learnt.weights == direct.weights));
    CHECK(lesson->profile.learnt.overrides == 60);
    CHECK(lesson->profile.learnt.agreements == direct.agreements);
    CHECK(lesson->profile.learnt.in_use);
    CHECK(lesson->profile.learnt.weights[rank::kWingsUp] > .5);
    // Nothing new: nothing is learnt again, the same stands there.
    const auto again = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 6);
    REQUIRE(again);
    CHECK_FALSE(again->fresh);
    CHECK((again->profile.learnt.weights == direct.weights));
    CHECK(again->profile.learnt_ms == 5);
    // Another profile has learnt nothing.
    const auto other = pipeline::learn_preferences(*s.catalog, "marsh", 6);
    REQUIRE(other);
    CHECK_FALSE(other->fresh);
    CHECK_FALSE(s.catalog->preferences("marsh"));
  }
  TEST_CASE("reset forgets, and what was said before teaches no more") {
    Season s(lover_of_wings());
    s.work(40, 4);
    REQUIRE(pipeline::learn_preferences(*s.catalog, kDefaultProfile, 5));
    REQUIRE(pipeline::reset_preferences(*s.catalog, kDefaultProfile, 6));
    CHECK_FALSE(weights_in_use(*s.catalog->preferences(kDefaultProfile)));
    CHECK_FALSE(pipeline::learn_preferences(*s.catalog, kDefaultProfile, 7)->fresh);
    s.work(5, 5);
    const auto lesson = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 8);
    REQUIRE(lesson);
    CHECK(lesson->fresh);
    CHECK(lesson->profile.learnt.overrides == 5);
    CHECK_FALSE(lesson->profile.learnt.in_use);
  }
  TEST_CASE("ratings from before our first run agree with nobody") {
    Season s(lover_of_wings());
    s.judged_before = false;
    s.work(20, 6);
    // Our first run records its verdicts only now; they were never seen.
    const auto lesson = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 5);
    REQUIRE(lesson);
    CHECK(lesson->profile.learnt.overrides == 20);
    CHECK(lesson->profile.learnt.agreements == 0);
  }
  TEST_CASE("frames that the catalogue no longer knows: what was learnt from them stays") {
    Season s(lover_of_wings());
    s.work(30, 7);
    const auto before = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 5);
    REQUIRE(before);
    REQUIRE(s.catalog->record_override({"/elsewhere/a.JPG", 4, -1.0, "-1", 1}));
    auto lesson = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 6);
    REQUIRE(lesson);
    CHECK(lesson->unknown == 1);
    CHECK((lesson->profile.learnt.weights == before->profile.learnt.weights));
  }
  TEST_CASE("imported weights are where learning begins") {
    Season s(lover_of_wings());
    PreferenceProfile p;
    p.name = kDefaultProfile;
    p.imported = true;
    p.learnt.weights = p.learnt.base = rank::normalised(s.who.weights);
    REQUIRE(s.catalog->store_preferences(p));
    s.work(10, 8);
    const auto lesson = pipeline::learn_preferences(*s.catalog, kDefaultProfile, 5);
    REQUIRE(lesson);
    CHECK((lesson->profile.learnt.base == p.learnt.base));
    CHECK((weights_in_use(lesson->profile) == p.learnt.base));  // ten are too few to leave it
  }
}
