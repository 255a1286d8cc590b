// A run killed at every step that changes something on the disk: sidecars, folders, and each write and sync
// of the catalogue.
#include <doctest/doctest.h>

#include <cstdlib>

#include "base/fault_point.h"
#include "pipeline/killed_run.h"

using namespace burstsieve;
using test::KilledRun;

namespace {

std::vector<std::string> words(const KilledRun& r, const std::string& command, const std::string& how,
                               int at) {
  return {BURSTSIEVE_CRASH_PROGRAM, command, r.card(), r.catalog(), how, std::to_string(at)};
}

// The kind of each step (test::Kind).
std::string steps_of(KilledRun& r, const std::string& command) {
  REQUIRE_MESSAGE(r.run(words(r, command, "count", 0)) == 0, r.output());
  const std::string out = r.output(), mark = "steps ";
  const auto at = out.rfind(mark);
  REQUIRE(at != std::string::npos);
  return out.substr(at + mark.size(), out.find('\n', at) - at - mark.size());
}

// Every step on the files and every sync of the catalogue; of its writes, which come page by page and mean
// nothing until they are synced, each fifth. BURSTSIEVE_EVERY_STEP: really all. Under sanitizers, where a
// process costs ten times as much, a few.
std::vector<int> chosen(const std::string& kinds) {
  std::vector<int> out;
  for (std::size_t i = 0; i < kinds.size(); ++i) {
#ifdef __SANITIZE_ADDRESS__
    const bool one = i % 23 == 0;
#else
    const bool one = kinds[i] != static_cast<char>(test::Kind::database_write) || i % 5 == 0 ||
                     std::getenv("BURSTSIEVE_EVERY_STEP");
#endif
    if (one) out.push_back(static_cast<int>(i) + 1);
  }
  return out;
}

// Before the step, in its middle, after it. Before a step is after the one before it, so that a third of each
// leaves little out.
const char* how_at(std::size_t n) {
  return n % 3 == 0 ? "kill" : n % 3 == 1 ? "half" : "after";
}

}  // namespace

TEST_SUITE("pipeline/crash") {
  TEST_CASE("a cull killed at any step goes on as if nothing had happened, and can be undone") {
    const auto& whole = test::undisturbed();
    KilledRun r;
    const std::string kinds = steps_of(r, "cull");
    CHECK((test::files_below(r.card()) == whole.files));  // the test's program culls as the real one does
    const auto steps = chosen(kinds);
    MESSAGE("killed at " << steps.size() << " of " << kinds.size() << " steps");
    CHECK(kinds.size() > 300);
    for (std::size_t i = 0; i < steps.size(); ++i) {
      CAPTURE(steps[i]);
      r.put_back();
      REQUIRE(r.run(words(r, "cull", how_at(i), steps[i])) == -SIGKILL);
      r.check_files(whole);
      r.check_acknowledged(whole);
      const int code = r.run(r.cull_words());
      CHECK_MESSAGE(code == 0, r.complaints());
      r.check_ended(whole);
      r.check_undo();
    }
  }

  TEST_CASE("an undo killed at any step is finished by the next one") {
    const auto& whole = test::undisturbed();
    KilledRun r;
    REQUIRE(r.run(r.cull_words()) == 0);
    const auto culled = r.snapshot();
    const std::string kinds = steps_of(r, "undo");
    CHECK((test::files_below(r.card()) == test::small_set()));
    const auto steps = chosen(kinds);
    MESSAGE("killed at " << steps.size() << " of " << kinds.size() << " steps");
    CHECK(kinds.size() > 50);
    for (std::size_t i = 0; i < steps.size(); ++i) {
      CAPTURE(steps[i]);
      r.put_back(culled);
      REQUIRE(r.run(words(r, "undo", how_at(i), steps[i])) == -SIGKILL);
      r.check_files(whole);
      r.check_undo();
    }
  }
}
