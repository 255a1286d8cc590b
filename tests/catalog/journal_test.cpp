#include <doctest/doctest.h>
#include <unistd.h>

#include <limits>

#include "base/temp_folder.h"
#include "catalog/opened.h"
#include "catalog/samples.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

constexpr std::int64_t kEnd = std::numeric_limits<std::int64_t>::max();

std::int64_t a_run(Catalog& c) {
  const auto id = c.record_run({0, 1000, 0, "/card", "", "0.1.0", {3, 1, 0, 0, 0, 0}});
  REQUIRE(id);
  return *id;
}

JournalEntry entry_of(Catalog& c, std::int64_t run, std::int64_t below = kEnd) {
  const auto e = c.change_before(run, below);
  REQUIRE(e);
  REQUIRE(*e);
  return **e;
}

}  // namespace

TEST_SUITE("catalog: journal") {
  TEST_CASE("what was planned comes back, last first, with exactly its bytes") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const ByteBuffer old{0, 255, 10, 0}, empty;
    std::int64_t run = 0;
    {
      Catalog c = opened(path);
      run = a_run(c);
      const std::vector<PlannedChange> batch{{folder.at("odd \xff.xmp"), Bytes(old), ~0ull},
                                             {folder.at("b.xmp"), Bytes(empty), 2},
                                             {folder.at("c.xmp"), std::nullopt, 3}};
      const auto first = c.plan_changes(run, batch, 77);
      REQUIRE(first);
      CHECK(*first == 1);
      const auto next = c.plan_changes(run, std::vector<PlannedChange>{{"/d.xmp", std::nullopt, 4}}, 78);
      REQUIRE(next);
      CHECK(*next == 4);
      REQUIRE(c.changes_done(run, std::vector<std::int64_t>{1, 3}, std::vector<std::int64_t>{4}));
    }
    Catalog c = opened(path);
    const JournalEntry last = entry_of(c, run);
    CHECK(last.sequence == 3);  // 4 never happened
    CHECK(last.done);
    CHECK_FALSE(last.before);
    const JournalEntry middle = entry_of(c, run, 3);
    CHECK(middle.before == empty);  // an empty file, not none
    CHECK_FALSE(middle.done);
    const std::string real = std::filesystem::canonical(folder.path).string();
    CHECK(entry_of(c, run, 2) == JournalEntry{run, 1, real + "/odd \xff.xmp", old, false, ~0ull, 77, true});
    CHECK_FALSE(c.change_before(run, 1)->has_value());
    CHECK(c.take_notes().empty());
  }

  TEST_CASE("history counts what changed, what was undone and what nobody knows") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    CHECK_FALSE(c.last_run_with_changes()->has_value());
    const auto run = a_run(c);
    const auto idle = a_run(c);
    const std::vector<PlannedChange> batch{
        {"/a.xmp", std::nullopt, 1}, {"/b.xmp", std::nullopt, 2}, {"/c.xmp", std::nullopt, 3}};
    REQUIRE(c.plan_changes(run, batch, 0));
    REQUIRE(c.changes_done(run, std::vector<std::int64_t>{1, 2}, {}));
    REQUIRE(c.finish_run(idle, 5000, {3, 1, 1, 1, 1, 0}));
    REQUIRE(c.mark_undone(entry_of(c, run, 2), true));
    auto h = c.history();
    REQUIRE(h.size() == 2);
    CHECK(h[0].changed == 2);
    CHECK(h[0].undone == 1);
    CHECK(h[0].planned == 1);
    CHECK(h[0].run.ended_ms == 0);
    CHECK(h[1].changed == 0);
    CHECK(h[1].run.ended_ms == 5000);
    CHECK(h[1].run.counts == RunCounts{3, 1, 1, 1, 1, 0});
    CHECK(c.last_run_with_changes()->value() == run);
    // A planned change that turned out never to have happened is no change.
    REQUIRE(c.mark_undone(entry_of(c, run), false));
    h = c.history();
    CHECK(h[0].changed == 2);
    CHECK(h[0].planned == 0);
  }

  TEST_CASE("a later change of the same sidecar is known, by any spelling of its path, until it is undone") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    std::filesystem::create_directory(folder.at("real"));
    REQUIRE(::symlink("real", folder.at("link").c_str()) == 0);
    const auto older = a_run(c), newer = a_run(c);
    const auto note = [&](std::int64_t run, const std::string& path) {
      const auto at = c.plan_changes(run, std::vector<PlannedChange>{{path, std::nullopt, 1}}, 0);
      REQUIRE(at);
      return *at;
    };
    note(older, folder.at("real/a.xmp"));
    const auto later = note(newer, folder.at("link/a.xmp"));
    const JournalEntry first = entry_of(c, older);
    CHECK_FALSE(c.run_that_changed_after(first)->has_value());  // only planned
    REQUIRE(c.changes_done(newer, std::vector<std::int64_t>{later}, {}));
    CHECK(c.run_that_changed_after(first)->value() == newer);
    CHECK_FALSE(c.run_that_changed_after(entry_of(c, newer))->has_value());
    REQUIRE(c.mark_undone(entry_of(c, newer), true));
    CHECK_FALSE(c.run_that_changed_after(first)->has_value());
  }

  TEST_CASE("damaged old contents are known as such") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const ByteBuffer old{1, 2, 3};
    std::int64_t run = 0;
    {
      Catalog c = opened(path);
      run = a_run(c);
      REQUIRE(c.plan_changes(run, std::vector<PlannedChange>{{"/a.xmp", Bytes(old), 1}}, 0));
    }
    for (const char* damage : {"UPDATE journal SET before=x'010204'", "UPDATE journal SET before=NULL"}) {
      sql(path, damage);
      Catalog c = opened(path);
      CHECK(entry_of(c, run).before_damaged);
    }
  }

  TEST_CASE("a catalogue of schema 1 keeps its records and gains the journal") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const FileRef file = a_file("/card/a.CR3");
    std::int64_t run = 0;
    {
      Catalog c = opened(path);
      run = a_run(c);
      REQUIRE(c.store_captures(std::vector<FileCapture>{{file, a_capture()}}));
      REQUIRE(c.store_burst("k", some_frames("/card", 2), facts_for(2)));
      REQUIRE(c.record_override({"/card/a", -1, 5.0, "5", 100}));
    }
    // What schema 1 was: the same tables without these.
    sql(path, "DROP TABLE journalled; DROP TABLE journal; PRAGMA user_version=1");
    for (int time = 0; time < 2; ++time) {
      Catalog c = opened(path);
      CHECK(c.capture_of(file) == a_capture());
      CHECK(c.burst_facts("k") == facts_for(2));
      CHECK(c.overrides().size() == 1);
      CHECK(c.history().at(0).changed == time);
      const auto at = c.plan_changes(run, std::vector<PlannedChange>{{"/a.xmp", std::nullopt, 1}}, 0);
      REQUIRE(at);
      REQUIRE(c.changes_done(run, std::vector<std::int64_t>{*at}, {}));
      CHECK(c.take_notes().empty());
    }
  }
}
