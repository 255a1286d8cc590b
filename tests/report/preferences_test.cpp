// What was learnt, in words, and as a file.
#include "burstsieve/report/preferences.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

using namespace burstsieve;

namespace {

PreferenceProfile learnt_profile() {
  PreferenceProfile p;
  p.name = "harbour";
  rank::Learnt& l = p.learnt;
  l.weights = l.base = rank::default_weights();
  l.weights[rank::kWhitesLost] = -7.2, l.uncertainty[rank::kWhitesLost] = .8,
  l.informed[rank::kWhitesLost] = 43;
  l.weights[rank::kShadowsBlocked] = -3, l.uncertainty[rank::kShadowsBlocked] = 2,
  l.informed[rank::kShadowsBlocked] = 20;
  l.weights[rank::kSize] = 2, l.uncertainty[rank::kSize] = .5, l.informed[rank::kSize] = 30;
  l.weights[rank::kCut] = -4, l.uncertainty[rank::kCut] = .1, l.informed[rank::kCut] = 2;
  l.overrides = 57, l.agreements = 80, l.choices = 300, l.in_use = true;
  l.agreed_learnt = .81, l.agreed_base = .64, l.gain_sure = 5.1;
  p.learnt_ms = 1'796'000'000'000;  // 2026-11-30
  return p;
}

std::string with(const std::string& from, const std::string& to) {
  std::string text = report::preferences_json(learnt_profile());
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

}  // namespace

TEST_SUITE("report/preferences") {
  TEST_CASE("words say what differs beyond doubt, by how much and from how many choices, and no more") {
    const std::string text = report::preferences_text(learnt_profile());
    CAPTURE(text);
    const auto says = [&](const char* what) { return text.find(what) != std::string::npos; };
    CHECK(says("from 57 ratings of yours and 80 poses where you let our choice stand"));
    CHECK(says(
        "In use: of choices kept out of the learning 81 % are foretold, 64 % by the defaults (5.1 standard"));
    CHECK(
        says("you weigh lost whites 1.8 times as much as the defaults (1.6 to 2.0) (from 43 poses; nearly "
             "certain)"));
    CHECK(says("weight -7.20 +- 0.80, by default -4.00"));
    // 7.2 x .05 octaves, and 4 x .05.
    CHECK(says("a typical difference (0.05 share) weighs as much as blur x1.28, by default blur x1.15"));
    CHECK(says("you prefer the bird larger in the frame; by default it does not count"));
    // One and a half standard deviations: .93, likely.
    CHECK(says("you prefer fewer black shadows; by default it does not count (from 20 poses; likely)"));
    CHECK(says("a cut outline: too few choices to tell"));
    CHECK(says("no frame is rejected for it"));
  }
  TEST_CASE("nothing learnt, too little learnt, nothing better learnt: each says so") {
    PreferenceProfile p = learnt_profile();
    p.learnt.in_use = false;
    CHECK(report::preferences_text(p).find("what was learnt is not better beyond chance") !=
          std::string::npos);
    CHECK(report::learnt_line(p).find("not used") != std::string::npos);
    p.learnt.overrides = 12;
    CHECK(report::preferences_text(p).find("12 ratings of yours, learning needs 20") != std::string::npos);
    CHECK(report::learnt_line(p).find("20 are needed") != std::string::npos);
    p.learnt.overrides = 0;
    CHECK(report::preferences_text(p) ==
          "Profile harbour: nothing was learnt yet; the defaults are in use\n");
  }
  TEST_CASE("what is exported comes back as the base to go by") {
    const PreferenceProfile p = learnt_profile();
    const auto back = report::preferences_from_json(report::preferences_json(p), "taste.json");
    REQUIRE(back);
    CHECK(back->imported);
    CHECK((back->learnt.base == p.learnt.weights));
    CHECK_FALSE(back->learnt.in_use);
    CHECK(back->learnt.overrides == 0);
    CHECK((weights_in_use(*back) == p.learnt.weights));
    PreferenceProfile idle = p;
    idle.learnt.in_use = false;
    const auto defaults = report::preferences_from_json(report::preferences_json(idle), "taste.json");
    REQUIRE(defaults);
    CHECK((defaults->learnt.base == rank::default_weights()));
  }
  TEST_CASE(
      "a file of another kind, another version, or with weights out of bounds is refused with the reason") {
    const auto why = [](const std::string& text) {
      const auto r = report::preferences_from_json(text, "taste.json");
      REQUIRE_FALSE(r);
      return r.error().line();
    };
    CHECK(why("").find("no exported preferences") != std::string::npos);
    CHECK(why("[1]").find("no exported preferences") != std::string::npos);
    CHECK(why(std::string(60'000, '[')).find("no exported preferences") != std::string::npos);
    CHECK(why(std::string(70'000, ' ')).find("too long") != std::string::npos);
    CHECK(why(with("\"format_version\": 1", "\"format_version\": 2")).find("another format version") !=
          std::string::npos);
    CHECK(why(with("\"id\": \"cut\"", "\"id\": \"smell\\u001b\"")).find("smell\\x1b") != std::string::npos);
    CHECK(why(with("\"id\": \"cut\"", "\"id\": \"blur\"")).find("blur twice") != std::string::npos);
    CHECK(why(with("\"weight_in_use\": -7.2", "\"weight_in_use\": 7.2"))
              .find("whites_lost must be -32.00 to 0.00") != std::string::npos);
    CHECK(why(with("\"weight_in_use\": -7.2", "\"weight_in_use\": null")).find("no weight_in_use") !=
          std::string::npos);
    CHECK(why(R"({"format": "burstsieve preferences", "format_version": 1, "features": 3})")
              .find("no features") != std::string::npos);
  }
}
