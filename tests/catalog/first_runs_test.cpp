// Many processes that open one catalogue at the same moment, when there is none yet.
#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <vector>

#include "base/temp_folder.h"
#include "catalog/fault_vfs.h"
#include "catalog/opened.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

constexpr int kProcesses = 8;

// Waits for the end of the pipe, so that all begin together. 0: opened and written.
[[noreturn]] void open_with_the_others(const std::string& path, int gate) {
  char byte = 0;
  static_cast<void>(::read(gate, &byte, 1) == 0);
  FaultPoint no_fault(Disturb::nothing, 0);
  use_fault_vfs(no_fault);
  fault_vfs::longest_pause_us = 3000;
  int code = 0;
  {
    auto c = Catalog::open(path, 1);
    if (!c)
      code = 1;
    else if (!c->record_run({0, ::getpid(), 0, "/card", "", "0.1.0", {}}))
      code = 2;
  }  // closed: while others are still opening it
  ::_exit(code);
}

// How many did not succeed.
int run_together(const std::string& path) {
  int gate[2];
  REQUIRE(::pipe(gate) == 0);
  std::vector<pid_t> children;
  for (int i = 0; i < kProcesses; ++i) {
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      ::close(gate[1]);
      open_with_the_others(path, gate[0]);
    }
    children.push_back(child);
  }
  ::close(gate[0]);
  ::close(gate[1]);
  int failed = 0;
  for (const pid_t child : children) {
    int status = 0;
    REQUIRE(::waitpid(child, &status, 0) == child);
    failed += !(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  }
  return failed;
}

}  // namespace

TEST_SUITE("catalog: first runs") {
  TEST_CASE("eight at once on a new catalogue: all go on, nothing is lost") {
    TempFolder folder(in_memory());
    for (int round = 0; round < 40; ++round) {
      const std::string path = folder.at("new/" + std::to_string(round) + ".sqlite");
      CHECK(run_together(path) == 0);
      CHECK(opened(path).runs().size() == kProcesses);
    }
  }

  TEST_CASE("eight at once on a catalogue of an older schema: it is upgraded once") {
    TempFolder folder(in_memory());
    for (int round = 0; round < 10; ++round) {
      const std::string path = folder.at(std::to_string(round) + ".sqlite");
      { opened(path); }
      sql(path,
          "DROP TABLE journalled; DROP TABLE journal; PRAGMA user_version=1; PRAGMA journal_mode=DELETE");
      CHECK(run_together(path) == 0);
      CHECK(opened(path).runs().size() == kProcesses);
    }
  }
}
