// A cull or an undo as the command line does it, that kills itself at the n-th step that changes something on
// the disk, in a sidecar or in the catalogue. Only the tests build it; the shipped program has no such
// switch.
//   crash-program cull|undo FOLDER CATALOG HOW N      HOW: count, kill, half, after
// Prints the line of --json for each burst that it was told of, and at the end the kinds of the steps
// (FaultPoint).
#include <cstdio>
#include <cstdlib>
#include <string>

#include "base/fault_file_system.h"
#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/pipeline/undo.h"
#include "burstsieve/report/json.h"
#include "catalog/fault_vfs.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::test;

struct Teller final : pipeline::Listener {
  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t, std::size_t) override {}
  void burst(const BurstOutcome& outcome) override {
    std::printf("%s\n", report::burst_json(outcome).c_str());
    std::fflush(stdout);
  }
  void error(const Error& e) override { std::printf("error %s\n", e.line().c_str()); }
};

Disturb how_of(const std::string& word) {
  return word == "kill"    ? Disturb::kill
         : word == "half"  ? Disturb::kill_half
         : word == "after" ? Disturb::kill_after
                           : Disturb::nothing;
}

int failed(const Error& e) {
  std::printf("failed %s\n", e.line().c_str());
  return 3;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 6) return 2;
  FaultPoint point(how_of(argv[4]), std::atoi(argv[5]));
  use_fault_vfs(point);
  {
    auto catalog = Catalog::open(argv[3], kEngineVersion);
    if (!catalog) return failed(catalog.error());
    RealFileSystem real;
    FaultFileSystem fs(real, point);
    if (argv[1] == std::string("undo")) {
      const auto done = pipeline::undo({}, *catalog, fs, [](const Error& e) { failed(e); });
      if (!done) return failed(done.error());
    } else {
      SystemClock clock;
      Teller teller;
      pipeline::CullOptions options;
      options.places = {argv[2]};
      options.threads = 1;  // the same steps in the same order every time
      const auto done = pipeline::cull(options, *catalog, fs, clock, teller);
      if (!done) return failed(done.error());
    }
  }
  std::printf("steps %s\n", point.kinds().c_str());
  return 0;
}
