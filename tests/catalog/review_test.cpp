// The log of the review: what was recorded is there, in order, for each folder by itself.
#include <doctest/doctest.h>

#include "base/temp_folder.h"
#include "burstsieve/catalog/catalog.h"

using namespace burstsieve;

namespace {

ReviewStep step_on(const std::string& path, std::optional<Verdict> verdict, std::optional<int> rating) {
  return {ReviewStep::Kind::decide, 4711, {{path, 0xfeedfacecafebeef, verdict, rating, "4\ncleared"}}};
}

}  // namespace

TEST_SUITE("catalog/review") {
  TEST_CASE("steps come back as they were recorded, after the file was closed, whatever the engine version") {
    const test::TempFolder folder;
    const std::vector<ReviewStep> steps{step_on("/marsh/A.JPG", Verdict::keep, 5),
                                        {ReviewStep::Kind::undo, 5000, {}},
                                        {ReviewStep::Kind::redo, 6000, {}},
                                        step_on("/marsh/B.JPG", Verdict::reject, {}),
                                        step_on("/marsh/A.JPG", std::nullopt, {})};
    {
      auto catalog = Catalog::open(folder.at("c.sqlite"), 1);
      REQUIRE(catalog);
      for (const ReviewStep& s : steps) REQUIRE(catalog->record_review_step("/marsh", s));
      REQUIRE(catalog->record_review_step("/harbour", {ReviewStep::Kind::undo, 1, {}}));
      const std::vector<WrittenWord> words{{"/marsh/A.JPG", 7, "5"}, {"/marsh/B.JPG", 8, ""}};
      REQUIRE(catalog->record_written(words));
    }
    auto catalog = Catalog::open(folder.at("c.sqlite"), 2);
    REQUIRE(catalog);
    const auto read = catalog->review_steps("/marsh/../marsh");
    REQUIRE(read);
    CHECK((*read == steps));
    CHECK(catalog->review_steps("/harbour")->size() == 1);
    CHECK(catalog->review_steps("/nowhere")->empty());
    CHECK((**catalog->written_word("/marsh/B.JPG") == WrittenWord{"/marsh/B.JPG", 8, ""}));
    CHECK(!*catalog->written_word("/marsh/C.JPG"));
    CHECK(!catalog->thumbnail_of("/marsh/A.JPG"));
  }

  TEST_CASE("a path twice in one step is refused as a whole") {
    const test::TempFolder folder;
    auto catalog = Catalog::open(folder.at("c.sqlite"), 1);
    REQUIRE(catalog);
    ReviewStep s = step_on("/marsh/A.JPG", Verdict::keep, 5);
    s.choices.push_back(s.choices.front());
    CHECK(!catalog->record_review_step("/marsh", s));
    CHECK(catalog->review_steps("/marsh")->empty());
  }
}
