#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstdlib>

#include "base/as_nobody.h"
#include "base/temp_folder.h"
#include "burstsieve/base/file_system.h"
#include "catalog/opened.h"
#include "catalog/samples.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

Error refusal(const std::string& path) {
  const auto c = Catalog::open(path, 1);
  REQUIRE_FALSE(c);
  CHECK(c.error().file == path);
  return c.error();
}

}  // namespace

TEST_SUITE("catalog: what goes in comes out") {
  TEST_CASE("captures, exactly, also after closing") {
    TempFolder folder;
    const std::string path = folder.at("new/deep/c.sqlite");
    const FileRef file = a_file("/card/odd \xff\n name.CR3");
    {
      Catalog c = opened(path);
      CHECK_FALSE(c.capture_of(file));
      const std::vector<FileCapture> both{{file, a_capture()}, {a_file("/card/b"), Capture{}}};
      REQUIRE(c.store_captures(both));
    }
    Catalog c = opened(path);
    CHECK(c.capture_of(file) == a_capture());
    CHECK(c.capture_of(a_file("/card/b")) == Capture{});
    CHECK(c.take_notes().empty());
  }

  TEST_CASE("a changed file or another engine is another record") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const FileRef file = a_file("/card/a.CR3");
    Catalog c = opened(path);
    REQUIRE(c.store_captures(std::vector<FileCapture>{{file, a_capture()}}));
    for (int what = 0; what < 4; ++what) {
      FileRef other = file;
      if (what == 0) other.path += "x";
      if (what == 1) ++other.size;
      if (what == 2) ++other.mtime_ns;
      if (what == 3) --other.fingerprint;
      CHECK_FALSE(c.capture_of(other));
    }
    CHECK_FALSE(opened(path, 2).capture_of(file));
    CHECK(c.capture_of(file));
    CHECK(c.take_notes().empty());
  }

  TEST_CASE("one file by two spellings of its path") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    REQUIRE(c.store_captures(std::vector<FileCapture>{{a_file("sub/../a.CR3"), a_capture()}}));
    CHECK(c.capture_of(a_file("./a.CR3")));
  }

  TEST_CASE("bursts, to the last bit of every double, with thumbnails") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const auto frames = some_frames("/card", 5);
    const auto facts = facts_for(5);
    const std::string key = burst_key(frames, 1);
    CHECK_FALSE(c.burst_facts(key));
    REQUIRE(c.store_burst(key, frames, facts));
    const auto back = c.burst_facts(key);
    REQUIRE(back);
    CHECK(*back == facts);
    CHECK(std::signbit(back->at(0).measures.at(1).value));  // -0.0 == 0.0, but its bits differ
    CHECK_FALSE(opened(folder.at("c.sqlite"), 2).burst_facts(key));
    REQUIRE(c.store_burst(key, frames, facts));  // again: the same
    CHECK(c.burst_facts(key) == facts);
  }

  TEST_CASE("a burst regrouped replaces the one its frames were in") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const auto frames = some_frames("/card", 5);
    const auto facts = facts_for(5);
    const std::string whole = burst_key(frames, 1);
    REQUIRE(c.store_burst(whole, frames, facts));
    const std::span<const Frame> part = std::span(frames).first(2);
    const std::string key = burst_key(part, 1);
    CHECK(key != whole);
    REQUIRE(c.store_burst(key, part, std::span(facts).first(2)));
    CHECK(c.burst_facts(key)->size() == 2);
    CHECK_FALSE(c.burst_facts(whole));
    CHECK_FALSE(c.store_burst(key, part, facts));  // lengths differ
  }

  TEST_CASE("the key follows the files, their order and the engine") {
    const auto frames = some_frames("/card", 2);
    const std::string key = burst_key(frames, 1);
    CHECK(key.size() == 32);
    CHECK(key == burst_key(some_frames("/card", 2), 1));
    CHECK(key != burst_key(frames, 2));
    CHECK(key != burst_key(std::vector<Frame>{frames[1], frames[0]}, 1));
    auto changed = frames;
    changed[1].raw->fingerprint = 1;
    CHECK(key != burst_key(changed, 1));
    auto as_jpeg = frames;
    as_jpeg[0].jpeg = as_jpeg[0].raw;
    as_jpeg[0].raw.reset();
    CHECK(key != burst_key(as_jpeg, 1));
  }

  TEST_CASE("idle runs of a watcher are forgotten, others' and older ones are not") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const auto record = [&](const char* where, std::int64_t started, std::int64_t ended,
                            std::int64_t frames) {
      REQUIRE(c.record_run({0, started, ended, where, "", "0.1.0", {frames, 0, 0, 0, 0, 0}}));
    };
    record("/card", 900, 950, 0);     // before
    record("/card", 1000, 1100, 0);   // idle
    record("/other", 1000, 1100, 0);  // somebody else's
    record("/card", 1000, 1100, 3);   // did something
    record("/card", 1000, 0, 0);      // goes on, or was killed
    REQUIRE(c.forget_idle_runs("/card", 1000));
    const auto left = c.runs();
    REQUIRE(left.size() == 4);
    CHECK(left[0].started_ms == 900);
    CHECK(left[1].folder == "/other");
    CHECK(left[2].counts.frames == 3);
    CHECK(left[3].ended_ms == 0);
  }

  TEST_CASE("runs, verdicts and why") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    Run run{0, 1000, 2000, "/card", "{\"dry\":false}", "0.1.0", {5, 1, 2, 1, 2, 0}};
    const auto first = c.record_run(run);
    REQUIRE(first);
    const auto second = c.record_run(run);
    REQUIRE(second);
    CHECK(*second > *first);
    run.id = *second;
    CHECK(c.runs().back() == run);

    FrameVerdict keep;
    keep.verdict = Verdict::keep;
    keep.rating = 4;
    REQUIRE(c.record_verdicts(*first, std::vector<PathVerdict>{{"/card/0.CR3", a_verdict()}}));
    REQUIRE(c.record_verdicts(*second,
                              std::vector<PathVerdict>{{"/card/0.CR3", keep}, {"/card2/x", a_verdict()}}));
    CHECK(c.verdicts_below("").size() == 2);
    const auto below = c.verdicts_below("/card/");
    REQUIRE(below.size() == 1);  // not /card2
    CHECK(below[0].verdict == keep);
    CHECK(c.verdicts_below("/card2").at(0).verdict == a_verdict());

    const auto frames = some_frames("/card", 1);
    REQUIRE(c.store_burst("k", frames, facts_for(1)));
    const auto why = c.explain("/card/./0.CR3");
    REQUIRE(why);
    CHECK(why->path == "/card/0.CR3");
    CHECK(why->facts == some_facts(0));
    CHECK(why->verdict == keep);
    CHECK(why->run == run);
    CHECK_FALSE(c.explain("/card/other.CR3"));
  }

  TEST_CASE("overrides are a journal without repetitions") {
    TempFolder folder;
    Catalog c = opened(folder.at("c.sqlite"));
    const Override up{"/card/a", -1, 5.0, "5", 100};
    const Override cleared{"/card/a", -1, std::nullopt, "", 200};
    const Override unasked{"/card/b", std::nullopt, 2.5, "2.5", 300};
    REQUIRE(c.record_override(up));
    Override later = up;
    later.at_ms = 150;
    REQUIRE(c.record_override(later));
    REQUIRE(c.record_override(cleared));
    REQUIRE(c.record_override(cleared));
    REQUIRE(c.record_override(unasked));
    later.at_ms = 400;
    REQUIRE(c.record_override(later));
    CHECK(c.overrides() == std::vector<Override>{up, cleared, unasked, later});
  }
}

TEST_SUITE("catalog: damage and refusals") {
  TEST_CASE("a damaged record is absent, with a note, and can be stored again") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    const auto frames = some_frames("/card", 3);
    const FileRef file = a_file("/card/0.CR3");
    const char* const damages[] = {
        "UPDATE frames SET record=substr(record,1,length(record)-1) WHERE position=1",
        "UPDATE frames SET record=x'' WHERE position=1",
        "UPDATE frames SET record=zeroblob(200) WHERE position=1",
        "UPDATE frames SET thumbnail=thumbnail||x'00' WHERE position=1",
        "UPDATE frames SET record=CAST(substr(record,1,20)||x'ff'||substr(record,22) AS BLOB) WHERE "
        "position=1",
        "UPDATE captures SET record=x'0163ffffffff'",
    };
    for (const char* damage : damages) {
      {
        Catalog c = opened(path);
        REQUIRE(c.store_burst("k", frames, facts_for(3)));
        REQUIRE(c.store_captures(std::vector<FileCapture>{{file, a_capture()}}));
        CHECK(c.burst_facts("k"));
      }
      sql(path, damage);
      Catalog c = opened(path);
      const bool burst = c.burst_facts("k").has_value();
      const bool capture = c.capture_of(file).has_value();
      CHECK_MESSAGE(burst != capture, damage);  // exactly one was damaged
      const auto notes = c.take_notes();
      REQUIRE(notes.size() == 1);
      CHECK(notes[0].find(".CR3: a stored ") != std::string::npos);
      CHECK(c.take_notes().empty());
    }
    sql(path, "DELETE FROM frames WHERE position=2");
    CHECK_FALSE(opened(path).burst_facts("k"));  // never a part of a burst
  }

  TEST_CASE("a file that is not ours is refused and untouched") {
    TempFolder folder;
    folder.write("text", std::string(300, 'x'));
    folder.write("short", "SQLite");
    sql(folder.at("other.sqlite"), "CREATE TABLE t(x); INSERT INTO t VALUES(1)");
    for (const char* name : {"text", "short", "other.sqlite"}) {
      const std::string before = folder.read(name);
      CHECK(refusal(folder.at(name)).cause == Cause::corrupt);
      CHECK(folder.read(name) == before);
    }
    REQUIRE(::mkdir(folder.at("folder").c_str(), 0700) == 0);
    CHECK(refusal(folder.at("folder")).cause == Cause::corrupt);
    CHECK(RealFileSystem().list(folder.path)->size() == 4);  // no journals beside them
  }

  TEST_CASE("a newer release's catalogue is refused and untouched") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    { Catalog c = opened(path); }
    sql(path, "PRAGMA user_version=99");
    const std::string before = folder.read("c.sqlite");
    CHECK(refusal(path).cause == Cause::unsupported);
    CHECK(folder.read("c.sqlite") == before);
  }

  TEST_CASE("a damaged catalogue says so") {
    TempFolder folder;
    const std::string path = folder.at("c.sqlite");
    { Catalog c = opened(path); }
    std::string bytes = folder.read("c.sqlite");
    for (std::size_t i = 100; i < 4096; ++i) bytes[i] = '\x5a';
    folder.write("c.sqlite", bytes);
    const Error e = refusal(path);
    CHECK(e.cause == Cause::corrupt);
    CHECK(e.text.find("the catalogue is damaged") == 0);
  }

  TEST_CASE("an empty file becomes a catalogue") {
    TempFolder folder;
    folder.write("c.sqlite", "");
    Catalog c = opened(folder.at("c.sqlite"));
    CHECK(c.runs().empty());
  }

  TEST_CASE("only the owner can read it") {
    TempFolder folder;
    const Catalog c = opened(folder.at("new/c.sqlite"));
    RealFileSystem fs;
    CHECK((*fs.stat(folder.at("new")))->mode == 0700);
    CHECK((*fs.stat(folder.at("new/c.sqlite")))->mode == 0600);
  }

  TEST_CASE("a place that can't be written is an error that says so") {
    TempFolder folder;
    { Catalog c = opened(folder.at("there.sqlite")); }
    REQUIRE(::chmod(folder.path.c_str(), 0555) == 0);
    REQUIRE(::chmod(folder.at("there.sqlite").c_str(), 0444) == 0);
    const AsNobody nobody;
    const Error missing = refusal(folder.at("c.sqlite"));
    CHECK(missing.cause == Cause::io);
    CHECK(missing.text == "cannot create: Permission denied");
    CHECK(refusal(folder.at("there.sqlite")).cause == Cause::io);
  }

  TEST_CASE("the usual place") {
    const char* data = std::getenv("XDG_DATA_HOME");
    const char* home = std::getenv("HOME");
    const std::string old_data = data != nullptr ? data : "";
    const std::string old_home = home != nullptr ? home : "";
    ::setenv("XDG_DATA_HOME", "/data", 1);
    CHECK(*default_catalog_path() == "/data/burstsieve/catalog.sqlite");
    ::setenv("XDG_DATA_HOME", "relative", 1);
    ::setenv("HOME", "/home/me", 1);
    CHECK(*default_catalog_path() == "/home/me/.local/share/burstsieve/catalog.sqlite");
    ::unsetenv("XDG_DATA_HOME");
    ::unsetenv("HOME");
    CHECK_FALSE(default_catalog_path());
    if (data != nullptr) ::setenv("XDG_DATA_HOME", old_data.c_str(), 1);
    if (home != nullptr) ::setenv("HOME", old_home.c_str(), 1);
  }
}
