// Each call that the engine process must not be able to make fails; what decoding needs works.
#include <doctest/doctest.h>

#include <cstdlib>
#include <sstream>

#include "base/temp_folder.h"

using namespace burstsieve;

TEST_SUITE("pipeline/sandbox") {
  TEST_CASE("no writing, no network, no processes, no new rights; reading, threads and memory stay") {
    test::TempFolder folder;
    folder.write("photograph", "bytes");
    const std::string command =
        "'" SANDBOX_PROBE "' '" + folder.at("photograph") + "' 2>&1 | cat >'" + folder.at("report") + "'";
    REQUIRE(std::system(command.c_str()) == 0);
    const std::string report = folder.read("report");
    CAPTURE(report);
    REQUIRE(report.ends_with("done\n"));
    std::istringstream lines(report);
    bool forbidden = true;
    int refused = 0, allowed = 0;
    for (std::string line; std::getline(lines, line);) {
      if (line == "done") continue;
      if (line == "--") {
        forbidden = false;
        continue;
      }
      CAPTURE(line);
      if (forbidden) {
        CHECK(line.ends_with(": EPERM"));
        ++refused;
      } else {
        CHECK(line.ends_with(": went through"));
        ++allowed;
      }
    }
#if defined(__SANITIZE_ADDRESS__)
    CHECK(refused == 46);
#else
    CHECK(refused == 47);
#endif
    CHECK(allowed == 4);
    CHECK(folder.read("photograph") == "bytes");
  }
}
