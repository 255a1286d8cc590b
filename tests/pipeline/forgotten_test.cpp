// A run whose journal is no longer kept, as the photographer meets it.
#include <doctest/doctest.h>

#include "pipeline/killed_run.h"

using namespace burstsieve;
using namespace burstsieve::test;

TEST_SUITE("pipeline/forgotten") {
  TEST_CASE("history says that it is too old, undo refuses it and changes nothing; the last run stays") {
    KilledRun r;
    auto soft = r.cull_words();
    soft.insert(soft.end(), {"--soft", "0.2", "--sure", "0.1"});
    REQUIRE(r.run(soft) == 0);
    const Files first = files_below(r.card());
    REQUIRE(r.run(r.cull_words()) == 0);
    const Files second = files_below(r.card());
    REQUIRE(first != second);
    std::int64_t changed = 0;
    {
      Catalog c = opened(r.catalog(), kEngineVersion);
      changed = c.history().at(0).changed;
      REQUIRE(c.forget_old_changes({0, 1, 0, 0}, c.history().at(1).run.ended_ms + 1));
    }
    const std::vector<std::string> history{BURSTSIEVE_PROGRAM, "history", "--catalog", r.catalog()};
    REQUIRE(r.run(history) == 0);
    CHECK(r.output().find("(too old to be undone)") == r.output().rfind("(too old to be undone)"));
    CHECK(r.output().find("(too old to be undone)") != std::string::npos);
    auto json = history;
    json.push_back("--json");
    REQUIRE(r.run(json) == 0);
    const auto line = nlohmann::json::parse(r.output().substr(0, r.output().find('\n')));
    CHECK(line["can_be_undone"] == false);
    CHECK(line["sidecars_changed"] == changed);

    auto undo = r.undo_words();
    undo.push_back("1");
    CHECK(r.run(undo) == 3);
    CHECK(r.complaints() == "burstsieve: run 1 is too old to be undone: its journal is no longer kept\n");
    CHECK((files_below(r.card()) == second));
    CHECK(r.run(r.undo_words()) == 0);
    CHECK((files_below(r.card()) == first));
  }
}
