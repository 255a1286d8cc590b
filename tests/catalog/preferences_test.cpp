// Overrides by profile and what they taught, in the catalogue.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "base/temp_folder.h"
#include "catalog/opened.h"
#include "catalog/samples.h"

using namespace burstsieve;
using test::opened;

namespace {

PreferenceProfile a_profile(const std::string& name) {
  PreferenceProfile p;
  p.name = name;
  for (std::size_t i = 0; i < rank::kFeatures; ++i) {
    const auto& spec = rank::feature_specs()[i];
    p.learnt.weights[i] = spec.least + (spec.most - spec.least) / 3;
    p.learnt.base[i] = spec.weight;
    p.learnt.uncertainty[i] = .1 + .01 * static_cast<double>(i);
    p.learnt.informed[i] = static_cast<int>(i);
  }
  p.learnt.scale = 1. / 3;
  p.learnt.overrides = 43, p.learnt.agreements = 61, p.learnt.choices = 212;
  p.learnt.gain = .01, p.learnt.gain_sure = 5.1, p.learnt.agreed_base = .64, p.learnt.agreed_learnt = .81;
  p.learnt.in_use = true;
  p.learnt_ms = 1'776'000'000'125, p.last_override = 90, p.forgotten_to = 7, p.imported = true;
  return p;
}

}  // namespace

TEST_SUITE("catalog/preferences") {
  TEST_CASE("a profile comes back bit by bit, after the catalogue was closed; profiles don't mix") {
    test::TempFolder folder;
    const PreferenceProfile put = a_profile("harbour");
    {
      Catalog c = opened(folder.at("c.sqlite"));
      CHECK_FALSE(c.preferences("harbour"));
      REQUIRE(c.store_preferences(put));
      REQUIRE(c.store_preferences(a_profile("marsh")));
    }
    Catalog c = opened(folder.at("c.sqlite"), 2);  // another engine: what was learnt stays
    const auto got = c.preferences("harbour");
    REQUIRE(got);
    CHECK((got->learnt.weights == put.learnt.weights));
    CHECK((got->learnt.base == put.learnt.base));
    CHECK((got->learnt.uncertainty == put.learnt.uncertainty));
    CHECK((got->learnt.informed == put.learnt.informed));
    CHECK(got->learnt.scale == put.learnt.scale);
    CHECK(got->learnt.overrides == 43);
    CHECK(got->learnt.agreements == 61);
    CHECK(got->learnt.choices == 212);
    CHECK(got->learnt.gain_sure == 5.1);
    CHECK(got->learnt.agreed_learnt == .81);
    CHECK(got->learnt.in_use);
    CHECK(got->learnt_ms == put.learnt_ms);
    CHECK(got->last_override == 90);
    CHECK(got->forgotten_to == 7);
    CHECK(got->imported);
    CHECK((c.preference_profiles() == std::vector<std::string>{"harbour", "marsh"}));
    CHECK_FALSE(c.preferences("quay"));
    CHECK(c.take_notes().empty());
  }
  TEST_CASE("weights in the file that leave their bounds are held, unknown features passed over") {
    test::TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    REQUIRE(c.store_preferences(a_profile("harbour")));
    test::sql(folder.at("c.sqlite"),
              "UPDATE preference_weights SET weight=1e300 WHERE feature='blur';"
              "UPDATE preference_weights SET weight='much' WHERE feature='cut';"
              "INSERT INTO preference_weights VALUES('harbour','smell',1,1,1,1)");
    const auto got = c.preferences("harbour");
    REQUIRE(got);
    CHECK(got->learnt.weights[rank::kBlur] == rank::feature_specs()[rank::kBlur].most);
    CHECK(std::isfinite(got->learnt.weights[rank::kCut]));
  }
  TEST_CASE("overrides belong to the profile that saw them first, and know whether we had judged the frame") {
    test::TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const std::string frame = folder.at("a.JPG");
    REQUIRE(c.record_override({frame, {}, 4.0, "4", 1}));
    const auto run = c.record_run({});
    REQUIRE(run);
    REQUIRE(c.record_verdicts(*run, std::vector<PathVerdict>{{frame, {}}}));
    REQUIRE(c.record_override({frame, {}, 4.0, "4", 2}, "marsh"));  // said before
    REQUIRE(c.record_override({frame, 4, 5.0, "5", 3}, "marsh"));
    const auto ours = c.overrides_of(kDefaultProfile), theirs = c.overrides_of("marsh");
    REQUIRE(ours.size() == 1);
    REQUIRE(theirs.size() == 1);
    CHECK_FALSE(ours[0].judged);
    CHECK(theirs[0].judged);
    CHECK(theirs[0].id > ours[0].id);
    CHECK(theirs[0].entry.human == 5.0);
    CHECK(c.overrides().size() == 2);
  }
  TEST_CASE("a catalogue of schema 3 keeps its overrides; they are the default profile's") {
    test::TempFolder folder;
    { REQUIRE(opened(folder.at("c.sqlite")).record_override({"/card/a.JPG", 4, -1.0, "-1", 1})); }
    test::sql(folder.at("c.sqlite"),
              "DROP TABLE preferences; DROP TABLE preference_weights; DROP TABLE override_profiles; "
              "PRAGMA user_version=3");
    Catalog c = opened(folder.at("c.sqlite"));
    CHECK(c.overrides_of(kDefaultProfile).size() == 1);
    CHECK(c.store_preferences(a_profile("harbour")));
  }
  TEST_CASE("bursts of a folder up to a frame, by name, and a burst with its paths, of whatever engine") {
    test::TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"), 1);
    const auto store = [&](const std::string& key, const std::vector<std::string>& names) {
      std::vector<Frame> frames;
      std::vector<FrameFacts> facts;
      for (const auto& name : names) {
        Frame f;
        f.jpeg.emplace().path = "/card/" + name;
        frames.push_back(f);
        facts.push_back(test::some_facts(static_cast<int>(facts.size())));
      }
      REQUIRE(c.store_burst(key, frames, facts));
    };
    store("two", {"B1", "B2"});
    store("one", {"A1", "A2", "A3"});
    store("below", {"A/1"});
    store("three", {"C1"});
    CHECK((c.bursts_up_to("/card/B1") == std::vector<std::string>{"one", "two"}));
    CHECK((c.bursts_up_to("/card/Z") == std::vector<std::string>{"one", "two", "three"}));
    CHECK(c.bursts_up_to("/other/Z").empty());
    Catalog later = opened(folder.at("c.sqlite"), 2);
    const auto burst = later.stored_burst("one");
    REQUIRE(burst);
    CHECK((burst->paths == std::vector<std::string>{"/card/A1", "/card/A2", "/card/A3"}));
    CHECK((burst->facts[1] == test::some_facts(1)));
    CHECK_FALSE(later.stored_burst("four"));
  }
  TEST_CASE("names of profiles") {
    CHECK(is_profile_name("default"));
    CHECK(is_profile_name("Salt-marsh_2.b"));
    for (const char* bad : {"", "a b", "../x", "x\n", "\xc3\xa9"}) CHECK_FALSE(is_profile_name(bad));
    CHECK_FALSE(is_profile_name(std::string(65, 'a')));
  }
  TEST_CASE("a run goes by what was learnt when it is in use, else by what was imported, else by nothing") {
    PreferenceProfile p = a_profile("x");
    CHECK((weights_in_use(p) == p.learnt.weights));
    p.learnt.in_use = false;
    CHECK((weights_in_use(p) == p.learnt.base));
    p.imported = false;
    CHECK_FALSE(weights_in_use(p));
  }
}
