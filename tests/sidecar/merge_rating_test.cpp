#include <doctest/doctest.h>

#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

ByteBuffer written(std::optional<int> rating) {
  auto merged = merge({}, entry_with(rating));
  REQUIRE(merged);
  REQUIRE(merged->change == SidecarChange::created);
  return merged->bytes;
}

SidecarChange change_of(const ByteBuffer& existing, std::optional<int> rating) {
  const auto merged = merge(existing, entry_with(rating));
  REQUIRE(merged);
  CHECK(merged->bytes.empty() ==
        (merged->change == SidecarChange::unchanged || merged->change == SidecarChange::human));
  return merged->change;
}

}  // namespace

TEST_SUITE("sidecar/merge: whose rating") {
  TEST_CASE("the same entry gives the same bytes, and a second visit changes nothing") {
    for (const std::optional<int> r : {std::optional<int>(), {-1}, {1}, {5}}) {
      const ByteBuffer first = written(r);
      CHECK(first == written(r));
      CHECK(change_of(first, r) == SidecarChange::unchanged);
    }
  }

  TEST_CASE("our own rating may be changed, and comes out as if freshly written") {
    const auto merged = merge(written(2), entry_with(5));
    REQUIRE(merged);
    CHECK(merged->change == SidecarChange::updated);
    CHECK(text_of(merged->bytes) == text_of(written(5)));
  }

  TEST_CASE("an undecided frame loses our rating, not its record") {
    const auto merged = merge(written(4), entry_with(std::nullopt));
    REQUIRE(merged);
    CHECK(merged->change == SidecarChange::updated);
    CHECK(text_of(merged->bytes) == text_of(written(std::nullopt)));
    CHECK(text_of(merged->bytes).find("Rating") == std::string::npos);
  }

  TEST_CASE("a rating that we did not write is a person's") {
    for (const char* rating : {"3", "3.0", "2.5", "-1", "5", "99", "five", "nan"}) {
      for (const std::optional<int> ours : {std::optional<int>(), {-1}, {3}}) {
        const auto merged = merge(bytes_of(rated(rating)), entry_with(ours));
        REQUIRE(merged);
        CHECK(merged->change == SidecarChange::human);
        CHECK(merged->bytes.empty());
        REQUIRE(merged->human);
        CHECK(merged->human->text == rating);
        CHECK_FALSE(merged->human->ours);
      }
    }
    CHECK(*merge(bytes_of(rated("2.5")), entry_with(1))->human->rating == 2.5);
    CHECK_FALSE(merge(bytes_of(rated("five")), entry_with(1))->human->rating);
  }

  TEST_CASE("a rating of 0 that replaces nothing of ours is nobody's word") {
    CHECK(change_of(bytes_of(rated("0")), 4) == SidecarChange::updated);
    CHECK(change_of(bytes_of(rated("0.0")), std::nullopt) == SidecarChange::updated);
  }

  TEST_CASE("a rating of ours that a person changed or cleared is an override") {
    const std::string ours = text_of(written(4));
    const std::string rating = "<xmp:Rating>4</xmp:Rating>";
    const auto changed = merge(bytes_of(replaced(ours, rating, "<xmp:Rating>1</xmp:Rating>")), entry_with(4));
    REQUIRE(changed);
    REQUIRE(changed->change == SidecarChange::human);
    CHECK(*changed->human == HumanRating{1.0, "1", 4});

    const auto zero = merge(bytes_of(replaced(ours, rating, "<xmp:Rating>0</xmp:Rating>")), entry_with(4));
    REQUIRE(zero);
    CHECK(zero->change == SidecarChange::human);

    const auto gone = merge(bytes_of(replaced(ours, rating, "")), entry_with(2));
    REQUIRE(gone);
    REQUIRE(gone->change == SidecarChange::human);
    CHECK(gone->human->cleared());
    CHECK(gone->human->ours == 4);
  }

  TEST_CASE("our rating in another spelling is still ours") {
    const std::string ours = text_of(written(4));
    const ByteBuffer respelt =
        bytes_of(replaced(ours, "<xmp:Rating>4</xmp:Rating>", "<xmp:Rating>4.0</xmp:Rating>"));
    CHECK(change_of(respelt, 4) == SidecarChange::unchanged);
    CHECK(change_of(respelt, 5) == SidecarChange::updated);
  }

  TEST_CASE("read_record says what stands there") {
    const auto ours = read_record(written(-1));
    REQUIRE(ours);
    CHECK_FALSE(ours->human);
    CHECK(ours->rating == "-1");
    CHECK(ours->written_rating == -1);
    CHECK(ours->verdict == "reject");
    CHECK(ours->frame_key == "0123456789abcdef");
    CHECK(ours->engine_version == "0.1.0");
    const auto theirs = read_record(bytes_of(rated("3")));
    REQUIRE(theirs);
    REQUIRE(theirs->human);
    CHECK(theirs->human->rating == 3.0);
    CHECK(theirs->verdict.empty());
    CHECK(read_record({})->rating.empty());
  }

  TEST_CASE("an impossible entry is refused") {
    for (const int r : {-2, 0, 6}) CHECK_FALSE(merge({}, entry_with(r)));
    SidecarEntry e = entry_with(3);
    e.verdict.verdict = Verdict::undecided;
    CHECK_FALSE(merge({}, e));
  }

  TEST_CASE("hostile text in a record can't break out of it") {
    SidecarEntry e = entry_with(3);
    e.verdict.better = "</burstsieve:Better>\x01\n]]>&bogus;\xff.jpg";
    const auto merged = merge({}, e);
    REQUIRE(merged);
    CHECK(read_record(merged->bytes)->rating == "3");
    CHECK(text_of(merged->bytes).find("\x01") == std::string::npos);
  }

  TEST_CASE("a rating given to us reads as a person's ever after, agreement included") {
    for (const std::optional<int> ours : {std::optional<int>(), {-1}, {3}})
      for (const std::optional<int> given : {std::optional<int>(), {-1}, {3}, {5}}) {
        CAPTURE(ours.value_or(0));
        CAPTURE(given.value_or(0));
        SidecarEntry entry = entry_with(ours);
        entry.given = GivenWord{given};
        for (const ByteBuffer& existing : {ByteBuffer(), written(2), written(std::nullopt)}) {
          const auto merged = merge(existing, entry);
          REQUIRE(merged);
          const ByteBuffer now = merged->bytes.empty() ? existing : merged->bytes;  // it said so already
          const auto record = read_record(now);
          REQUIRE(record);
          CHECK(record->rating == (given ? std::to_string(*given) : ""));
          // Without a rating from either there is no word to keep.
          CHECK(record->human.has_value() == (given || ours));
          if (record->human) CHECK(record->human->ours == (given == ours ? std::optional<int>() : ours));
          CHECK(merge(now, entry)->change == SidecarChange::unchanged);
          // The next run.
          const auto expected = given || ours ? SidecarChange::human : SidecarChange::unchanged;
          CHECK(change_of(now, ours) == expected);
        }
      }
  }

  TEST_CASE("a person's word stands against one given to us, unless it was known or is the same") {
    SidecarEntry entry = entry_with(3);
    entry.given = GivenWord{5};
    const ByteBuffer theirs = bytes_of(rated("4"));
    CHECK(merge(theirs, entry)->change == SidecarChange::human);
    entry.replaceable = {"2", ""};
    CHECK(merge(theirs, entry)->change == SidecarChange::human);
    CHECK(merge(bytes_of(rated("5.0")), entry)->change == SidecarChange::unchanged);
    entry.replaceable = {"4"};
    const auto merged = merge(theirs, entry);
    REQUIRE(merged);
    CHECK(merged->change == SidecarChange::updated);
    CHECK(read_record(merged->bytes)->rating == "5");
    // Taken back: what the review wrote may become ours again.
    entry.given.reset();
    entry.replaceable = {"5"};
    CHECK(read_record(merge(merged->bytes, entry)->bytes)->human == std::nullopt);
    for (const int bad : {0, -2, 6}) {
      entry.given = GivenWord{bad};
      CHECK(!merge({}, entry));
    }
  }
}
