// The loop of watch/watcher.h without a disk, a sleep or a photograph.
#include "burstsieve/watch/watcher.h"

#include <doctest/doctest.h>

#include <deque>
#include <functional>

#include "base/temp_folder.h"
#include "burstsieve/watch/summary.h"

using namespace burstsieve;
using namespace burstsieve::watch;

namespace {

// Files of one camera, a second apart or a day; every file its own burst, or all of them one.
struct World final : Lister, Waker, Observer {
  ManualClock clock{1'790'000'000'000};
  std::map<std::string, std::uint64_t> files;  // path → size
  bool away = false;
  std::set<std::string> damaged;
  double load_now = 0;
  std::deque<std::function<void()>> events;  // one before each sleep's end
  std::atomic<bool> stop{false};
  std::vector<std::string> notes, errors, culled;
  std::size_t passes = 0, covers = 0;
  std::function<void()> on_frame = [] {};
  Result<RunSummary> answer = RunSummary{};

  Listing list(const std::vector<std::string>& places) override {
    Listing l;
    if (away) {
      for (const std::string& p : places) l.errors.push_back({Cause::io, p, "No such file or directory"});
      return l;
    }
    for (const auto& [path, size] : files) l.files.push_back({path, size, 7});
    l.folders = places;
    return l;
  }
  void cover(const std::vector<std::string>&) override { ++covers; }
  void wait(std::int64_t ms) override {
    clock.advance(ms);
    if (events.empty()) {
      stop = true;
      return;
    }
    const auto next = events.front();
    events.pop_front();
    next();
  }
  void burst(const BurstOutcome& o) override {
    for (const auto& f : o.frames) culled.push_back(f.frame.main().path);
  }
  void error(const Error& e) override { errors.push_back(e.line()); }
  void note(const std::string& line) override { notes.push_back(line); }

  Result<RunSummary> cull(const pipeline::CullOptions& o, pipeline::Listener& l,
                          const std::atomic<bool>* stopped) {
    ++passes;
    if (!answer) return answer.error();
    RunSummary s;
    std::int64_t time = 0;
    for (const auto& [path, size] : files) {
      time += 86'400'000;
      if (away) l.error({Cause::io, path, "No such file or directory"});
      if (*stopped) break;
      if (size == 0 || !o.file_ready(path, size, 7)) continue;
      Burst b{"cam", {}};
      b.frames.emplace_back();
      b.frames[0].jpeg = FileRef{path, FileKind::jpeg, "JPEG", size, 7, std::hash<std::string>{}(path)};
      b.frames[0].capture.time_ms = time;
      if (!o.burst_ready(b)) continue;
      BurstOutcome out;
      out.camera = "cam";
      out.frames.push_back({b.frames[0], {}, {Verdict::keep, 4, {}, 1, 1, {}}, {}});
      if (damaged.count(path) != 0) {
        out.frames[0].facts.damage = "data ends early";
        l.error({Cause::corrupt, path, "data ends early"});
      }
      l.burst(out);
      on_frame();
      ++s.frames;
      l.progress(s.frames, files.size());
    }
    return s;
  }

  Watcher watcher(double max_load = 0, std::map<std::string, Ledger>* ledgers = nullptr) {
    pipeline::CullOptions options;
    options.places = {"/in"};
    Surroundings s{*this,
                   *this,
                   clock,
                   [this](const auto& o, auto& l, const auto* st) { return cull(o, l, st); },
                   [this](const std::string& p) { return !away && (p == "/in" || files.count(p) != 0); },
                   [this] { return std::optional<double>(load_now); },
                   max_load,
                   ledgers};
    return Watcher({}, options, s, *this);
  }
  void nothing(int times) {
    for (int i = 0; i < times; ++i) events.emplace_back([] {});
  }
};

}  // namespace

TEST_SUITE("watch/watcher") {
  TEST_CASE("a quiet folder is looked at and never culled again") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}, {"/in/A_2.JPG", 10}};
    w.nothing(500);
    const auto totals = w.watcher().run(w.stop);
    CHECK(totals.looks >= 400);
    CHECK(w.passes == 1);
    CHECK(totals.frames == 2);
    CHECK(w.covers == totals.looks);
  }

  TEST_CASE("the folder goes and comes back: one line each, nothing culled anew") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}};
    w.nothing(20);
    w.events.emplace_back([&] { w.away = true; });
    w.nothing(50);
    w.events.emplace_back([&] { w.away = false; });
    w.nothing(20);
    w.watcher().run(w.stop);
    CHECK(w.passes == 1);
    CHECK((w.notes == std::vector<std::string>{"/in: not there (No such file or directory); waiting for it",
                                               "/in: there again"}));
    CHECK(w.errors.empty());
  }

  TEST_CASE("the folder goes during a pass: no line for every frame, and the rest afterwards") {
    World w;
    for (int i = 10; i < 40; ++i) w.files["/in/A_" + std::to_string(i) + ".JPG"] = 10;
    World* p = &w;
    auto watcher = w.watcher();
    // The card goes after the tenth frame; the looks of the pass's end see it away, a later one back.
    w.on_frame = [p] { p->away = p->culled.size() == 10; };
    for (int i = 0; i < 40; ++i) w.events.emplace_back([p, i] { p->away = p->away && i < 20; });
    watcher.run(w.stop);
    CHECK(w.errors.empty());
    CHECK(w.notes.size() == 2);
    CHECK(w.passes == 2);
    CHECK(w.culled.size() == 30);
  }

  TEST_CASE("load above the limit: no pass begins, one line; below it the work goes on") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}};
    w.load_now = 9;
    w.nothing(100);
    w.events.emplace_back([&] {
      CHECK(w.passes == 0);
      w.load_now = .5;
    });
    w.nothing(5);
    w.watcher(2).run(w.stop);
    CHECK(w.passes == 1);
    CHECK((w.notes == std::vector<std::string>{"load 9.0 is above 2.0: waiting"}));
  }

  TEST_CASE("a pass that can't be done is tried again, ever less often, and told once") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}};
    w.answer = Error{Cause::io, "catalog.sqlite", "disk full"};
    w.nothing(1000);
    w.events.emplace_back([&] { w.answer = RunSummary{}; });
    w.nothing(200);
    const auto totals = w.watcher().run(w.stop);
    CHECK(w.errors.size() == 1);
    CHECK(totals.frames == 1);
    CHECK(w.passes >= 5);
    CHECK(w.passes <= 20);
  }

  TEST_CASE("once: waits for quiet, ends when all is done") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}};
    w.nothing(100);
    const auto totals = w.watcher().run_once(w.stop, 600'000);
    CHECK(totals.frames == 1);
    CHECK(w.clock.steady_ms() >= 20'000);
    CHECK(w.clock.steady_ms() <= 25'000);
    CHECK(totals.left.empty());
  }

  TEST_CASE("once: a folder that never gets quiet is culled at the deadline; what still grows is named") {
    World w;
    w.files = {{"/in/A_1.JPG", 10}, {"/in/Z_big.JPG", 10}};
    for (int i = 0; i < 1000; ++i) w.events.emplace_back([&] { ++w.files["/in/Z_big.JPG"]; });
    const auto totals = w.watcher().run_once(w.stop, 60'000);
    CHECK((w.culled == std::vector<std::string>{"/in/A_1.JPG"}));
    CHECK((totals.left == std::vector<std::string>{"/in/Z_big.JPG"}));
    CHECK(w.clock.steady_ms() <= 66'000);
  }

  TEST_CASE("a young damaged file is no news until it stays damaged; the ledger tells each thing once") {
    test::TempFolder state;
    World w;
    w.files = {{"/in/A_1.JPG", 10}, {"/in/A_2.JPG", 10}};
    w.damaged = {"/in/A_1.JPG", "/in/A_2.JPG"};
    for (int restart = 0; restart < 3; ++restart) {
      auto ledger = Ledger::open(state.path, "/in");
      REQUIRE(bool(ledger));
      std::map<std::string, Ledger> ledgers;
      ledgers.emplace("/in", std::move(*ledger));
      w.stop = false;
      if (restart == 0) {
        w.nothing(7);  // 35 s: culled once, still young
        w.events.emplace_back([&] {
          CHECK(w.errors.empty());
          w.damaged.erase("/in/A_2.JPG");  // its end came without a change of size or time
        });
      }
      w.nothing(100);
      w.watcher(0, &ledgers).run(w.stop);
    }
    const auto lines = Ledger::read(state.path, "/in");
    REQUIRE(bool(lines));
    CHECK(lines->size() == 3);
    const auto news = news_of(*lines, 0);
    CHECK(news.counts.frames == 2);
    REQUIRE(news.failures.size() == 1);
    CHECK(news.failures[0].file == "/in/A_1.JPG");
    CHECK(news.failures[0].reason == "data ends early");
    CHECK(w.errors.size() == 3);  // each watcher says it to its own terminal
  }

  TEST_CASE("what went while no watcher looked is gone from the ledger, too") {
    test::TempFolder state;
    World w;
    w.files = {{"/in/A_1.JPG", 10}, {"/in/A_2.JPG", 10}};
    for (int restart = 0; restart < 2; ++restart) {
      auto ledger = Ledger::open(state.path, "/in");
      REQUIRE(bool(ledger));
      std::map<std::string, Ledger> ledgers;
      ledgers.emplace("/in", std::move(*ledger));
      w.stop = false;
      w.nothing(30);
      w.watcher(0, &ledgers).run(w.stop);
      w.files.erase("/in/A_1.JPG");
    }
    const auto lines = Ledger::read(state.path, "/in");
    REQUIRE(bool(lines));
    CHECK(news_of(*lines, 0).counts.frames == 1);
    const auto second = news_of(*lines, 2);  // both were told: one is gone
    CHECK(second.counts.frames == 0);
    CHECK(second.counts.gone == 1);
  }

  TEST_CASE("options out of range are refused") {
    CHECK(bool(WatchOptions{}.check()));
    WatchOptions o;
    o.settle_s = 0;
    CHECK(!o.check());
    o = {};
    o.quiet_s = -1;
    CHECK(!o.check());
    o = {};
    o.poll_s = std::numeric_limits<double>::quiet_NaN();
    CHECK(!o.check());
  }
}
