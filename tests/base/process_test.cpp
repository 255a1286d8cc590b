// The look at what a killed program leaves running must see something when there is something.
#include "base/process.h"

#include "base/temp_folder.h"

using namespace burstsieve::test;

TEST_SUITE("base/process") {
  TEST_CASE("a child that outlives its killed parent is found, by session and by command line") {
    TempFolder folder;
    const std::string mark = folder.at("mark");
    Process p({"/bin/sh", "-c", "sleep 300 & echo $! >'" + mark + "'; wait"}, folder.path, folder.at("out"),
              folder.at("err"));
    // The shell names it; its child does, too, until it has become the other program.
    while (folder.read("mark").find('\n') == std::string::npos || still_running(-1, mark).size() != 1)
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    p.kill_now();
    CHECK(p.wait() == -SIGKILL);
    CHECK(still_running(-1, mark).empty());
    CHECK(still_running(p.pid(), mark).size() == 1);
    REQUIRE(::kill(std::stoi(folder.read("mark")), SIGKILL) == 0);
    CHECK(left_after_a_second(p.pid(), mark).empty());
  }
}
