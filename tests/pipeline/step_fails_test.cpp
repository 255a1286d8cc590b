// A cull one of whose steps on the disk fails, once: one failed sidecar at most, and the next run mends it.
#include <doctest/doctest.h>

#include "base/fault_file_system.h"
#include "burstsieve/base/clock.h"
#include "pipeline/killed_run.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

struct Errors final : pipeline::Listener {
  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t, std::size_t) override {}
  void burst(const BurstOutcome&) override {}
  void error(const Error& e) override { all.push_back(e); }
  std::vector<Error> all;
};

// How many steps it took, and what went wrong.
std::size_t cull(const KilledRun& r, bool dry_run, int failing, Errors& errors) {
  Catalog catalog = opened(r.catalog(), kEngineVersion);
  RealFileSystem real;
  FaultPoint point(Disturb::fail, failing);
  FaultFileSystem fs(real, point);
  ManualClock clock(1'790'000'000'000);
  pipeline::CullOptions options;
  options.places = {r.card()};
  options.dry_run = dry_run;
  options.threads = 1;
  REQUIRE(pipeline::cull(options, catalog, fs, clock, errors));
  return point.kinds().size();
}

}  // namespace

TEST_SUITE("pipeline/step_fails") {
  TEST_CASE("any step may fail once") {
    const auto& whole = undisturbed();
    KilledRun r;
    Errors none;
    cull(r, true, 0, none);  // the measures: the runs below only write
    const auto measured = r.snapshot();
    const int steps = static_cast<int>(cull(r, false, 0, none));
    REQUIRE(none.all.empty());
    REQUIRE(steps > 50);
    int told = 0, failed = 0;
    // Six or seven steps for each sidecar: all of the first ones, then one of another kind every time.
    for (int at = 1; at <= steps; at += at < 24 ? 1 : 5) {
      ++failed;
      CAPTURE(at);
      r.put_back(measured);
      Errors first, second;
      cull(r, false, at, first);
      CHECK(first.all.size() <= 1);
      for (const Error& e : first.all) {
        ++told;
        CHECK(e.file.ends_with(".xmp"));
      }
      r.check_files(whole);
      cull(r, false, 0, second);
      CHECK(second.all.empty());
      CHECK((files_below(r.card()) == whole.files));
      r.check_undo();
    }
    CHECK(told >= failed - 2);  // tidying a folder is no sidecar's business
  }
}
