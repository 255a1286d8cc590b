// A run killed at every step that changes something on the disk: sidecars, folders, and each write and sync
// of the catalogue.
#include <doctest/doctest.h>

#include "pipeline/killed_run.h"

using namespace burstsieve;
using test::KilledRun;

namespace {

// Under sanitizers a process costs ten times as much: a sample of the steps.
#ifdef __SANITIZE_ADDRESS__
constexpr int kStride = 23;
#else
constexpr int kStride = 1;
#endif

std::vector<std::string> words(const KilledRun& r, const std::string& command, const std::string& how,
                               int at) {
  return {BURSTSIEVE_CRASH_PROGRAM, command, r.card(), r.catalog(), how, std::to_string(at)};
}

int steps_of(KilledRun& r, const std::string& command) {
  REQUIRE(r.run(words(r, command, "count", 0)) == 0);
  const std::string out = r.output();
  const auto at = out.rfind("steps ");
  REQUIRE(at != std::string::npos);
  return std::stoi(out.substr(at + 6));
}

// A write is cut in half; every third step dies before it begins and every third after it is done, which
// for the others is the same as before the next one.
const char* how_at(int step) {
  return step % 3 == 0 ? "kill" : step % 3 == 1 ? "half" : "after";
}

void finish(KilledRun& r) {
  const int code = r.run(r.cull_words());
  CHECK_MESSAGE(code == 0, r.complaints());
}

}  // namespace

TEST_SUITE("pipeline/crash") {
  TEST_CASE("a cull killed at any step goes on as if nothing had happened, and can be undone") {
    const auto& whole = test::undisturbed();
    KilledRun r;
    const int steps = steps_of(r, "cull");
    CHECK((test::files_below(r.card()) == whole.files));  // the test's program culls as the real one does
    MESSAGE(steps << " steps");
    CHECK(steps > 100);
    for (int at = 1; at <= steps; at += kStride) {
      CAPTURE(at);
      r.put_back();
      REQUIRE(r.run(words(r, "cull", how_at(at), at)) == -SIGKILL);
      r.check_files(whole);
      r.check_acknowledged(whole);
      finish(r);
      r.check_ended(whole);
      r.check_undo();
    }
  }
}
