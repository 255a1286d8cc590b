// The real program, killed at random moments until it is through. BURSTSIEVE_KILLS says how many kills.
#include <doctest/doctest.h>

#include <chrono>
#include <cstdlib>
#include <random>

#include "pipeline/killed_run.h"

using namespace burstsieve;
using std::chrono::microseconds;
using test::KilledRun;

namespace {

int wanted_kills() {
  if (const char* said = std::getenv("BURSTSIEVE_KILLS")) return std::max(1, std::atoi(said));
#ifdef __SANITIZE_ADDRESS__
  return 12;  // a process costs ten times as much
#else
  return 200;
#endif
}

microseconds duration_of(KilledRun& r, const std::vector<std::string>& words) {
  const auto begin = std::chrono::steady_clock::now();
  REQUIRE(r.run(words) == 0);
  return std::chrono::duration_cast<microseconds>(std::chrono::steady_clock::now() - begin);
}

class Killer {
 public:
  explicit Killer(microseconds whole_run) : within_(0, whole_run.count()) {}

  // Runs and kills up to `times` in a row, then once to the end. `after` is called after each kill.
  template <class After>
  void to_the_end(KilledRun& r, const std::vector<std::string>& words, int times, After after) {
    for (int i = 0; i < times; ++i) {
      const int code = r.run(words, microseconds(within_(random_)));
      if (code == 0) return;  // faster than the kill
      REQUIRE_MESSAGE(code == -SIGKILL, r.complaints());
      ++kills;
      after();
    }
    const int code = r.run(words);
    CHECK_MESSAGE(code == 0, r.complaints());
  }
  int up_to(int n) { return std::uniform_int_distribution<int>(1, n)(random_); }
  int kills = 0;

 private:
  std::mt19937 random_{20261125};  // the moments are the system's all the same
  std::uniform_int_distribution<std::int64_t> within_;
};

void undo_all(KilledRun& r, Killer& killer) {
  std::vector<RunHistory> runs;
  {
    Catalog c = test::opened(r.catalog(), kEngineVersion);
    runs = c.history();
  }
  for (auto h = runs.rbegin(); h != runs.rend(); ++h) {
    auto words = r.undo_words();
    words.push_back(std::to_string(h->run.id));
    killer.to_the_end(r, words, killer.up_to(2), [&] { r.check_files(test::undisturbed()); });
  }
  CHECK((test::files_below(r.card()) == test::small_set()));
}

}  // namespace

TEST_SUITE("pipeline/random_kill") {
  TEST_CASE("killed at random moments, often in a row, the card ends as after one undisturbed run") {
    const auto& whole = test::undisturbed();
    KilledRun r;
    Killer killer(duration_of(r, r.cull_words()));
    const int wanted = wanted_kills();
    int trials = 0;
    for (; killer.kills < wanted && trials < 20 * wanted; ++trials) {
      r.put_back();
      killer.to_the_end(r, r.cull_words(), std::min(killer.up_to(5), wanted - killer.kills), [&] {
        r.check_files(whole);
        r.check_acknowledged(whole);
      });
      r.check_ended(whole);
      if (trials % 8 == 0)
        undo_all(r, killer);
      else if (trials % 8 == 4)
        r.check_undo();
    }
    MESSAGE(killer.kills << " kills in " << trials << " trials");
    CHECK(killer.kills >= wanted);
  }
}
