// The series benchmark: its text format, its figures, and a small invented set whose truth is known.
#include <doctest/doctest.h>

#include <cmath>

#include "base/temp_folder.h"
#include "choices_file.h"
#include "frame.h"
#include "plan.h"
#include "run.h"
#include "score.h"

using namespace burstsieve;
using namespace burstsieve::series;

namespace {

PairChoice choice(const char* a, const char* b, double share) {
  return {1, a, b, share, 10};
}

// Renders bursts of four frames, each softer than the one before by a factor of two or so: nobody would
// disagree.
struct InventedSet {
  InventedSet() {
    auto bursts = generate::plan({"season", 3, 4, 750, 500, 11, generate::Format::jpeg, true, false});
    REQUIRE(bursts.size() == 3);
    for (std::size_t b = 0; b < bursts.size(); ++b) {
      auto& burst = bursts[b];
      REQUIRE(burst.frames.size() == 4);
      const auto pose = burst.frames[0];
      for (std::size_t i = 0; i < 4; ++i) {
        auto spec = pose;
        spec.motion_px = 0, spec.exposure_ev = -1, spec.seed = i + 1;
        spec.focus_on = generate::FocusOn::subject;
        spec.at = {.5, .5};
        spec.defocus_sigma = std::vector{0., 1.4, 2.8, 5.6}[i];
        auto frame = generate::render_frame(burst, spec);
        const auto files = generate::photograph(burst, spec, frame);
        char name[32];
        std::snprintf(name, sizeof name, "%06zu-%02zu.JPG", b + 1, i + 1);
        folder.write(name, std::string(files[0].bytes.begin(), files[0].bytes.end()));
        for (std::size_t j = 0; j < i; ++j)
          text +=
              std::to_string(b + 1) + " " + std::to_string(j + 1) + " " + std::to_string(i + 1) + " 0.9\n";
      }
    }
  }
  test::TempFolder folder;
  std::string text;
};

}  // namespace

TEST_SUITE("series/choices_file") {
  TEST_CASE("both forms, comments, blanks in names, line ends of other systems") {
    const auto c = parse_choices(
        "# by the harbour\n\nquay a.jpg b.jpg 0.75 12\r\nquay\tb.jpg\tgull two.jpg\t1\n123 1 12 0.4 3.5\n",
        "c.txt");
    CHECK(c.errors.empty());
    REQUIRE(c.series.size() == 2);
    REQUIRE(c.series.at("quay").size() == 2);
    CHECK(c.series.at("quay")[0].votes == 12);
    CHECK(c.series.at("quay")[1].b == "gull two.jpg");
    CHECK(c.series.at("123")[0].a == "000123-01.JPG");
    CHECK(c.series.at("123")[0].b == "000123-12.JPG");
    CHECK(c.series.at("123")[0].share == doctest::Approx(.4));
  }
  TEST_CASE("a line that makes no sense is passed over with its number and the reason") {
    const auto c = parse_choices(
        "s a.jpg b.jpg\ns a.jpg b.jpg 1.5\ns a.jpg b.jpg nan\ns a.jpg a.jpg .5\ns ../a.jpg b.jpg .5\n"
        "s a.jpg b.jpg .5 0\ns a.jpg b.jpg .5\ns b.jpg a.jpg .5\ns a.jpg /b.jpg 1 2\n1 2 3 4 5 6\n\x01\xff\n",
        "c.txt");
    CHECK(c.series.at("s").size() == 1);
    REQUIRE(c.errors.size() == 10);
    CHECK(c.errors[0].line() == "c.txt:1: 3 fields, not 4 or 5");
    CHECK(c.errors[1].line() == "c.txt:2: '1.5' is no share from 0 to 1");
    CHECK(c.errors[3].line() == "c.txt:4: a photograph can't be preferred to itself");
    CHECK(c.errors[4].line() == "c.txt:5: '../a.jpg' is no path below the folder");
    CHECK(c.errors[5].line() == "c.txt:6: '0' is no number of votes");
    CHECK(c.errors[6].line() == "c.txt:8: this pair was named before");
  }
}

TEST_SUITE("series/score") {
  TEST_CASE("pairs, ties, what has no answer, the people's best") {
    Score s;
    add_series({choice("a", "b", .9), choice("a", "c", .6), choice("b", "c", .5)},
               {{"a", 1}, {"b", 2}, {"c", 3}}, s);
    CHECK(s.pairs.of == 2);
    CHECK(s.pairs.hit == 2);
    CHECK(s.decided_pairs.of == 1);
    CHECK(s.top_1.hit == 1);
    add_series({choice("a", "b", .9), choice("c", "d", .2)}, {{"b", 1}, {"a", 2}, {"c", 0}}, s);
    CHECK(s.pairs.of == 4);
    CHECK(s.pairs.hit == 2.5);  // c against d: no answer for either
    CHECK(s.top_1.hit == 1);
    CHECK(s.top_3.hit == 2);
    CHECK(s.top_3_of_many.of == 0);
    CHECK(s.unmeasured == 2);
  }
  TEST_CASE("intervals: Wilson's for 8 of 10 and 0 of 10") {
    // .4901-.9433 and 0-.2775: Brown, Cai and DasGupta (Statistical Science 2001) give the formula; worked
    // out by hand.
    CHECK(Share{8, 10}.low() == doctest::Approx(.4902).epsilon(.001));
    CHECK(Share{8, 10}.high() == doctest::Approx(.9433).epsilon(.001));
    CHECK(Share{0, 10}.low() == doctest::Approx(0));
    CHECK(Share{0, 10}.high() == doctest::Approx(.2775).epsilon(.001));
  }
}

TEST_SUITE("series/run") {
  TEST_CASE(
      "on an invented set where the sharper is preferred the order is people's; missing files cost no more") {
    InventedSet set;
    set.folder.write("choices.txt", set.text + "9 1 2 0.8\n");
    RunOptions o;
    o.folder = set.folder.path, o.choices = set.folder.at("choices.txt"), o.threads = 1;
    const auto r = run(o);
    REQUIRE(r);
    CHECK(r->score.top_1.of == 4);
    CHECK(r->score.pairs.of == 19);
    // Of 18 that are there, and half of the one that is not. Two are lost to one frame of 5.6 px that reads
    // .7: without a detector something sharp of the scenery vouches for it.
    CHECK(r->score.pairs.hit >= 16.5);
    CHECK(r->score.top_1.hit >= 3);
    CHECK(r->score.unmeasured == 2);
    REQUIRE(r->errors.size() == 2);
    CHECK(r->errors[0].text == "is not there");
  }
  TEST_CASE("a choices file that is not there is an error") {
    CHECK_FALSE(run({"/", "/no/such/file", nullptr, {}, 1}));
  }
}
