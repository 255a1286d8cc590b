// How long the journal of old runs is kept.
#include <doctest/doctest.h>

#include <limits>

#include "base/temp_folder.h"
#include "catalog/opened.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

constexpr std::int64_t kDay = 86'400'000;
constexpr std::int64_t kNow = 20'000 * kDay;

// A run that replaced one sidecar of `bytes` bytes, `age_ms` ago.
std::int64_t a_run(Catalog& c, std::int64_t age_ms, std::size_t bytes = 10) {
  const ByteBuffer old(bytes, 'x');
  const auto id = c.record_run({0, kNow - age_ms, kNow - age_ms, "/card", "", "0.1.0", {1, 1, 1, 0, 0, 0}});
  REQUIRE(id);
  const std::vector<PlannedChange> change{{"/card/a.xmp", Bytes(old), 1}};
  REQUIRE(c.plan_changes(*id, change, kNow - age_ms));
  REQUIRE(c.changes_done(*id, std::vector<std::int64_t>{1}, {}));
  return *id;
}

// The runs whose old bytes are still there; history and is_forgotten() must say the same.
std::vector<std::int64_t> kept(Catalog& c) {
  std::vector<std::int64_t> out;
  for (const RunHistory& h : c.history()) {
    const auto entry = c.change_before(h.run.id, std::numeric_limits<std::int64_t>::max());
    REQUIRE(entry);
    CHECK(entry->has_value() == !h.forgotten);
    CHECK(*c.is_forgotten(h.run.id) == h.forgotten);
    CHECK(h.changed == 1);  // also of a forgotten run
    if (!h.forgotten) out.push_back(h.run.id);
  }
  return out;
}

using Runs = std::vector<std::int64_t>;

}  // namespace

TEST_SUITE("catalog: journal kept") {
  TEST_CASE("by age and number: either is enough to stay") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    for (const int days : {400, 300, 200, 91, 90, 89, 5}) a_run(c, days * kDay);
    REQUIRE(c.forget_old_changes({90, 5, 1000, 24}, kNow));
    CHECK(kept(c) == Runs{3, 4, 5, 6, 7});
    REQUIRE(c.forget_old_changes({90, 1, 1000, 24}, kNow));
    CHECK(kept(c) == Runs{6, 7});  // 90 days is not younger than 90 days
    REQUIRE(c.forget_old_changes({90, 1, 1000, 24}, kNow + 1000 * kDay));
    CHECK(kept(c) == Runs{7});  // never the last
  }

  TEST_CASE("by size: the oldest go, but never the last nor what is younger than a day") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    for (const int hours : {100, 80, 60, 30, 10, 5}) a_run(c, hours * kDay / 24, 100);
    REQUIRE(c.forget_old_changes({90, 20, 400, 24}, kNow));
    CHECK(kept(c) == Runs{3, 4, 5, 6});
    REQUIRE(c.forget_old_changes({90, 20, 0, 24}, kNow));
    CHECK(kept(c) == Runs{5, 6});
    REQUIRE(c.forget_old_changes({90, 20, 0, 0}, kNow));
    CHECK(kept(c) == Runs{6});
    CHECK(c.last_run_with_changes()->value() == 6);
  }

  TEST_CASE("a run none of whose changes happened does not count as the last") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const auto changed = a_run(c, 5 * kDay);
    const auto id = c.record_run({0, kNow, kNow, "/card", "", "0.1.0", {}});
    REQUIRE(id);
    REQUIRE(c.plan_changes(*id, std::vector<PlannedChange>{{"/card/a.xmp", std::nullopt, 1}}, kNow));
    REQUIRE(c.changes_done(*id, {}, std::vector<std::int64_t>{1}));
    REQUIRE(c.forget_old_changes({0, 1, 0, 0}, kNow));
    CHECK(c.last_run_with_changes()->value() == changed);
    CHECK_FALSE(*c.is_forgotten(changed));
  }

  TEST_CASE("the end of a run forgets by the default limits, for good") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    {
      Catalog c = opened(path);
      for (int i = 0; i < 25; ++i) a_run(c, 100 * kDay);
      REQUIRE(c.finish_run(25, kNow, {1, 1, 1, 0, 0, 0}));
      CHECK(kept(c).size() == 20);
      CHECK(kept(c).front() == 6);
    }
    Catalog c = opened(path);
    CHECK(kept(c).size() == 20);
    CHECK(c.take_notes().empty());
  }

  TEST_CASE("the sizes of a journal from before schema 3 are known after the upgrade") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    {
      Catalog c = opened(path);
      for (const int days : {7, 6, 5}) a_run(c, days * kDay, 100);
    }
    sql(path, "DROP TABLE journalled; PRAGMA user_version=2");
    Catalog c = opened(path);
    CHECK(kept(c) == Runs{1, 2, 3});
    REQUIRE(c.forget_old_changes({90, 20, 200, 24}, kNow));
    CHECK(kept(c) == Runs{2, 3});
  }
}
