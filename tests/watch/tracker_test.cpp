// The rules of watch/tracker.h, on invented files and a clock that moves when told.
#include "burstsieve/watch/tracker.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "burstsieve/base/clock.h"
#include "burstsieve/group/pairs.h"
#include "watch/shore.h"

using namespace burstsieve;
using namespace burstsieve::watch;
using test::Shore;

TEST_SUITE("watch/tracker") {
  TEST_CASE("seen, settling, ready, culled; once") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.look();
    CHECK(s.state("/in/A_0001.JPG") == FileState::settling);
    CHECK(s.pass().empty());
    s.clock.advance(3000);
    s.look();
    CHECK(s.state("/in/A_0001.JPG") == FileState::ready);
    CHECK(s.pass().empty());  // the folder is not quiet yet
    s.clock.advance(17000);
    s.look();
    CHECK((s.pass() == std::vector<std::string>{"A_0001"}));
    CHECK(s.state("/in/A_0001.JPG") == FileState::culled);
    CHECK(!s.tracker.next_due(s.clock.steady_ms()));
    s.clock.advance(1000000);
    s.look();
    CHECK(s.pass().empty());
    CHECK(s.opened.size() == 1);
  }

  TEST_CASE("a file that grows settles from its last change; next_due says when to look") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.look();
    for (int i = 0; i < 10; ++i) {
      s.clock.advance(2900);
      s.files["/in/A_0001.JPG"].size += 1000;
      s.look();
      CHECK(s.state("/in/A_0001.JPG") == FileState::settling);
    }
    CHECK(*s.tracker.next_due(s.clock.steady_ms()) == 20000);
    s.clock.advance(20000);
    s.look();
    CHECK(s.pass().size() == 1);
  }

  TEST_CASE("times of files and the machine's clock neither starve nor hasten") {
    for (const std::int64_t mtime :
         {std::int64_t{0}, std::int64_t{-5}, std::int64_t{4'000'000'000'000'000'000}}) {
      Shore s;
      s.put("/in/A_0001.JPG", 0);
      s.files["/in/A_0001.JPG"].mtime_ns = mtime;  // 1970, before it, 2096
      s.look();
      CHECK(s.pass().empty());
      s.clock.advance(20000);
      s.look();
      CHECK(s.pass().size() == 1);
    }
  }

  TEST_CASE("a younger file makes the whole folder wait, and only that folder") {
    Shore s;
    s.put("/in/a/A_0001.JPG", 0);
    s.put("/in/b/B_0001.JPG", 100000);
    s.look();
    s.clock.advance(15000);
    s.put("/in/a/A_0002.JPG", 50);
    s.look();
    s.clock.advance(5000);
    s.look();
    CHECK((s.pass() == std::vector<std::string>{"B_0001"}));
    s.clock.advance(15000);
    s.look();
    CHECK((s.pass() == std::vector<std::string>{"A_0001 A_0002"}));
  }

  TEST_CASE("a log that never stands still does not hold up its folder for ever") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.put("/in/log.txt", 0, "");
    bool culled = false;
    for (int i = 0; i < 1000 && !culled; ++i) {
      s.files["/in/log.txt"].size += 1;
      s.look();
      culled = !s.pass().empty();
      s.clock.advance(1000);
    }
    CHECK(culled);
    CHECK(s.clock.steady_ms() >= 600000);
    CHECK(s.clock.steady_ms() <= 640000);
  }

  TEST_CASE("what is no photograph is opened once and left alone until it changes") {
    Shore s;
    s.put("/in/notes.txt", 0, "");
    s.look();
    s.clock.advance(20000);
    s.look();
    CHECK(s.pass().empty());
    CHECK(s.opened.size() == 1);
    s.clock.advance(2000000);
    s.look();
    CHECK(s.pass().empty());
    CHECK(s.opened.size() == 1);
    s.files["/in/notes.txt"].size += 1;
    s.look();
    s.clock.advance(20000);
    s.look();
    s.pass();
    CHECK(s.opened.size() == 2);
  }

  TEST_CASE("temporary names and empty files are never opened") {
    Shore s;
    s.put("/in/A_0001.JPG.part", 0);
    s.put("/in/A_0002.JPG~", 0);
    s.put("/in/A_0003.JPG", 0);
    s.files["/in/A_0003.JPG"].size = 0;
    s.look();
    s.clock.advance(100000);
    s.look();
    CHECK(s.pass().empty());
    CHECK(s.opened.empty());
    s.rename("/in/A_0001.JPG.part", "/in/A_0001.JPG");
    s.look();
    s.clock.advance(20000);
    s.look();
    CHECK((s.pass() == std::vector<std::string>{"A_0001"}));
  }

  TEST_CASE("a frame that comes late joins its burst; bursts out of reach are not opened") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.put("/in/A_0003.JPG", 100);
    s.put("/in/A_0900.JPG", 500000);
    s.settle();
    CHECK(s.pass().size() == 2);
    s.opened.clear();
    s.put("/in/A_0002.JPG", 50);
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001 A_0002 A_0003"}));
    CHECK((s.opened_names() == std::set<std::string>{"A_0001", "A_0002", "A_0003"}));
  }

  TEST_CASE("a frame that comes late can join two bursts and so a third") {
    // Pauses .9 s apart hold together; 2 s do only once the burst's median has grown to .9 s.
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.put("/in/A_0002.JPG", 900);
    s.put("/in/A_0004.JPG", 4300);
    s.settle();
    s.pass();
    s.put("/in/A_0003.JPG", 1800);
    s.settle();
    s.pass();
    CHECK((s.standing == s.plain()));
  }

  TEST_CASE("a raw first, its JPEG later: one frame") {
    Shore s;
    s.put("/in/A_0001.NEF", 0);
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001"}));
    s.put("/in/A_0001.JPG", 0);
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001+"}));
    CHECK((s.standing == s.plain()));
  }

  TEST_CASE("a pair in two folders, and a copy elsewhere") {
    Shore s;
    s.put("/in/raw/A_0001.NEF", 0);
    s.put("/in/x/A_0007.JPG", 700000);
    s.settle();
    s.pass();
    s.put("/in/jpg/A_0001.JPG", 0);
    s.files["/in/y/copy.JPG"] = s.files["/in/x/A_0007.JPG"];
    s.settle();
    s.pass();
    CHECK((s.standing == s.plain()));
    CHECK(s.standing.count("/in/raw/A_0001.NEF /in/jpg/A_0001.JPG ") == 1);
    CHECK(s.standing.count("/in/x/A_0007.JPG /in/y/copy.JPG ") == 1);
  }

  TEST_CASE("deletion and renaming: the rest of the burst is judged again") {
    Shore s;
    for (int i = 1; i <= 4; ++i) s.put("/in/A_000" + std::to_string(i) + ".JPG", 50 * i);
    s.settle();
    s.pass();
    s.files.erase("/in/A_0002.JPG");
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001 A_0003 A_0004"}));
    s.rename("/in/A_0004.JPG", "/in/A_0009.JPG");
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001 A_0003 A_0009"}));
    CHECK((s.standing == s.plain()));
  }

  TEST_CASE("a camera whose counter turns out to count: its earlier bursts are judged again") {
    // The first two would be one burst by time alone; the counter, once it is seen counting, parts them.
    Shore s;
    s.put("/in/A_0001.JPG", 0, "cam", 1);
    s.put("/in/A_0002.JPG", 500, "cam", 1);
    s.settle();
    CHECK((s.pass() == std::vector<std::string>{"A_0001 A_0002"}));
    s.put("/in/A_0003.JPG", 90000, "cam", 1);
    s.put("/in/A_0004.JPG", 90050, "cam", 2);
    s.settle();
    s.pass();
    s.settle();
    s.pass();
    CHECK((s.standing == s.plain()));
    CHECK(s.standing.size() == 3);
    // And once only that witness says so, its loss puts them together again.
    s.files.erase("/in/A_0004.JPG");
    s.settle();
    s.pass();
    CHECK((s.standing == s.plain()));
  }

  TEST_CASE("a folder that can't be read is not an empty one") {
    Shore s;
    s.put("/in/a/A_0001.JPG", 0);
    s.put("/in/b/B_0001.JPG", 900000);
    s.settle();
    s.pass();
    s.opened.clear();
    s.unreadable = {"/in/a"};
    s.settle();
    CHECK(s.pass().empty());
    s.unreadable.clear();
    s.settle();
    CHECK(s.pass().empty());
    CHECK(s.opened.empty());
  }

  TEST_CASE("a young file that reads as damaged is tried again, and then given up") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.damaged = {"/in/A_0001.JPG"};
    s.settle();
    CHECK(s.pass().size() == 1);
    CHECK(s.state("/in/A_0001.JPG") == FileState::ready);
    CHECK(s.tracker.may_mend("/in/A_0001.JPG", s.clock.steady_ms()));
    CHECK(*s.tracker.next_due(s.clock.steady_ms()) == 100000);
    s.clock.advance(100000);
    s.look();
    CHECK(s.pass().size() == 1);
    CHECK(s.state("/in/A_0001.JPG") == FileState::culled);
    // It changes after all: the last bytes came an hour later.
    s.damaged.clear();
    s.files["/in/A_0001.JPG"].size += 5;
    s.settle();
    CHECK(s.pass().size() == 1);
    CHECK(s.state("/in/A_0001.JPG") == FileState::culled);
  }

  TEST_CASE("what can't be opened is tried again, ever less often, and at once when the card is back") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.locked = {"/in/A_0001.JPG"};
    std::vector<std::int64_t> tries;
    for (int i = 0; i < 4000; ++i) {
      s.look();
      const auto before = s.tried;
      s.pass();
      if (s.tried != before) tries.push_back(s.clock.steady_ms());
      s.clock.advance(1000);
    }
    REQUIRE(tries.size() >= 8);
    CHECK(tries[1] - tries[0] == 5000);
    CHECK(tries[2] - tries[1] == 10000);
    CHECK(tries.back() - tries[tries.size() - 2] == 600000);
    s.unreadable = {"/in"};
    s.look();
    s.unreadable.clear();
    s.locked.clear();
    s.look();
    CHECK(s.pass().size() == 1);
  }

  TEST_CASE("in a hurry only quiet is not waited for") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.look();
    CHECK(s.pass(true).empty());
    s.clock.advance(3000);
    s.put("/in/A_0002.JPG", 700000);
    s.look();
    CHECK((s.pass(true) == std::vector<std::string>{"A_0001"}));
    CHECK((s.tracker.waiting() == std::vector<std::string>{"/in/A_0002.JPG"}));
  }

  TEST_CASE("a stopped pass leaves its files for the next") {
    Shore s;
    s.put("/in/A_0001.JPG", 0);
    s.settle();
    REQUIRE(s.tracker.begin_pass(s.clock.steady_ms(), false));
    CHECK(!s.tracker.end_pass(s.clock.steady_ms(), false));
    CHECK(s.pass().size() == 1);
  }

  TEST_CASE("any order of arrival ends in the bursts of a plain run") {
    // 200 seeds x 40 events of two cameras, pairs, copies, counters, deletions: the last word on every burst
    // is the one that group::form_bursts gives over all that is left.
    for (unsigned seed = 1; seed <= 200; ++seed) {
      Shore s;
      s.play(seed);
      CAPTURE(seed);
      CHECK((s.standing == s.plain()));
    }
  }
}
