// A process killed while it writes loses nothing that it was told is stored.
#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>

#include "base/temp_folder.h"
#include "catalog/samples.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

std::vector<Frame> burst(int n) {
  return some_frames("/card/" + std::to_string(n), 4);
}

// Stores bursts for ever; one byte down the pipe for each that was acknowledged.
[[noreturn]] void store_until_killed(const std::string& path, int pipe, int first) {
  auto c = Catalog::open(path, 1);
  if (!c) ::_exit(1);
  for (int n = first;; ++n) {
    const auto frames = burst(n);
    if (!c->store_burst(burst_key(frames, 1), frames, facts_for(4))) ::_exit(2);
    if (::write(pipe, "+", 1) != 1) ::_exit(3);
  }
}

// Bursts acknowledged before the kill.
int run_and_kill(const std::string& path, int first, int wait_for) {
  int ends[2];
  REQUIRE(::pipe(ends) == 0);
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) store_until_killed(path, ends[1], first);
  ::close(ends[1]);
  int acknowledged = 0;
  char byte = 0;
  while (acknowledged < wait_for && ::read(ends[0], &byte, 1) == 1) ++acknowledged;
  REQUIRE(::kill(child, SIGKILL) == 0);
  while (::read(ends[0], &byte, 1) == 1) ++acknowledged;
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  CHECK(WIFSIGNALED(status));
  ::close(ends[0]);
  return acknowledged;
}

}  // namespace

TEST_SUITE("catalog: kill -9") {
  TEST_CASE("nothing acknowledged is lost, nothing is there in part") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const auto facts = facts_for(4);
    int stored = 0;
    for (int round = 0; round < 6; ++round) {
      stored += run_and_kill(path, stored, 1 + round * 3);
      auto c = Catalog::open(path, 1);
      REQUIRE_MESSAGE(c, c.error().line());
      for (int n = 0; n < stored; ++n) CHECK(c->burst_facts(burst_key(burst(n), 1)) == facts);
      // The one in flight may be there, whole; nothing behind it can be.
      const auto next = c->burst_facts(burst_key(burst(stored), 1));
      CHECK((!next || *next == facts));
      CHECK_FALSE(c->burst_facts(burst_key(burst(stored + 1), 1)));
      CHECK(c->take_notes().empty());
    }
  }
}
