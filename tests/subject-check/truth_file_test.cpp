#include "truth_file.h"

#include <doctest/doctest.h>

using namespace burstsieve;
using namespace burstsieve::subject_check;

TEST_SUITE("subject-check/truth_file") {
  TEST_CASE("boxes, none, names with blanks, comments, credits, line ends of other systems") {
    const TruthFile t = parse_truth(
        "# drawn by eye\n# credit: harbour, CC0\n\ngull.jpg 1 2 30 40\r\ntwo gulls.jpg  1 2 3 4 5.5 6 7 8\n"
        "quay.jpg\tnone",
        "truth.txt");
    CHECK(t.errors.empty());
    CHECK((t.credits == std::vector<std::string>{"harbour, CC0"}));
    REQUIRE(t.pictures.size() == 3);
    CHECK(t.pictures[0].line == 4);
    CHECK(t.pictures[0].boxes.size() == 1);
    CHECK(t.pictures[1].name == "two gulls.jpg");
    REQUIRE(t.pictures[1].boxes.size() == 2);
    CHECK(t.pictures[1].boxes[1].x == 5.5);
    CHECK(t.pictures[2].boxes.empty());
  }

  TEST_CASE("a bad line is passed over with its number and the reason; the others count") {
    const TruthFile t = parse_truth(
        "a.jpg\nb.jpg 1 2 3\nc.jpg 1 2 x 4\nd.jpg 1 2 0 4\ne.jpg none\ne.jpg none\nf.jpg 1 2 nan 4\n"
        "g.jpg none 1 2 3 4\n",
        "truth.txt");
    REQUIRE(t.pictures.size() == 1);
    REQUIRE(t.errors.size() == 7);
    CHECK(t.errors[0].line() == "truth.txt:1: neither boxes nor \"none\" after the name");
    CHECK(t.errors[1].line() == "truth.txt:2: 3 numbers: a box needs four (x y w h)");
    CHECK(t.errors[2].line() == "truth.txt:3: 'x' is no number");
    CHECK(t.errors[3].line() == "truth.txt:4: box 1 has no area");
    CHECK(t.errors[4].line() == "truth.txt:6: named before, in line 5");
  }

  TEST_CASE("boxes become regions; one outside the picture is an error that names the line") {
    const TruthLine line{7, "a.jpg", {{10, 20, 30, 40}}};
    const auto in = regions_of(line, 100, 200, "t.txt");
    REQUIRE(in);
    CHECK(in->front().x == doctest::Approx(.1));
    CHECK(in->front().h == doctest::Approx(.2));
    const auto out = regions_of(line, 30, 200, "t.txt");
    REQUIRE_FALSE(out);
    CHECK(out.error().line() == "t.txt:7: box 1 lies outside of a.jpg (30 x 200 pixels)");
  }
}
