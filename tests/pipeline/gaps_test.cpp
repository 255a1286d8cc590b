// Frames of a burst that are looked at once more because their neighbours show what they don't; and which
// frames are key frames. All of it by the burst alone.
#include "../../src/pipeline/gaps.h"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "burstsieve/pipeline/frame_work.h"

using namespace burstsieve;
using pipeline::gaps_of;
using pipeline::Look;
using pipeline::look_of;

namespace {

// 'x' the detector saw it, '.' somebody else did, '-' nobody, '!' damaged.
std::vector<FrameFacts> burst_of(const std::string& seen) {
  std::vector<FrameFacts> out;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    FrameFacts f;
    f.decoded = true;
    if (seen[i] == '!') f.damage = "data ends early";
    const double x = .1 + .02 * static_cast<double>(i);
    if (seen[i] == 'x') f.subjects.push_back({{x, .4, .1, .2}, {}, .8, "detector + focus energy"});
    if (seen[i] == '.') f.subjects.push_back({{.7, .7, .1, .1}, {}, .3, "focus energy"});
    out.push_back(f);
  }
  return out;
}

std::string gaps_in(const std::string& seen) {
  std::string out(seen.size(), ' ');
  for (const auto& g : gaps_of(burst_of(seen))) out[g.frame] = 'g';
  return out;
}

}  // namespace

TEST_SUITE("pipeline/gaps") {
  TEST_CASE("every frame is searched, every sixteenth in all its parts") {
    std::string plan;
    for (std::size_t i = 0; i < 34; ++i)
      plan += look_of(i) == Look::thorough ? 'T' : look_of(i) == Look::key ? 'k' : '.';
    CHECK(plan == "TkkkkkkkkkkkkkkkTkkkkkkkkkkkkkkkTk");
  }

  TEST_CASE("a frame between two sightings is looked at amid them") {
    const auto gaps = gaps_of(burst_of("xxx.xxxx"));
    REQUIRE(gaps.size() == 1);
    CHECK(gaps[0].frame == 3);
    CHECK(gaps[0].place.centre_x() == doctest::Approx(.1 + .02 * 3 + .05));
    CHECK(gaps[0].place.w == doctest::Approx(.1));
  }

  TEST_CASE("ends of what was seen, damage, and bursts without anything") {
    CHECK(gaps_in("-xx") == "g  ");
    CHECK(gaps_in("xx-") == "  g");
    CHECK(gaps_in("...") == "   ");
    CHECK(gaps_in("x!x") == "   ");
    CHECK(gaps_in("x") == " ");
    CHECK(gaps_in("-") == " ");
    CHECK(gaps_of({}).empty());
  }

  TEST_CASE("one in eight at most, and those with two neighbours first") {
    CHECK(gaps_in(".xx.x.x.") == "   g    ");
    CHECK(gaps_in("..xx.xxxxxxxxxxxxxxxxxxxx..") == " g  g                    g ");
    CHECK(gaps_in("..xx.x.xxxxxxxxxxxxxx..") == "    g g                ");
  }
}
