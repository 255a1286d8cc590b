// Listing, lock, ledger, waker and units on a real disk.
#include <doctest/doctest.h>
#include <sys/wait.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "base/temp_folder.h"
#include "burstsieve/report/summary.h"
#include "burstsieve/watch/ledger.h"
#include "burstsieve/watch/listing.h"
#include "burstsieve/watch/lock.h"
#include "burstsieve/watch/summary.h"
#include "burstsieve/watch/units.h"
#include "burstsieve/watch/waker.h"
#include "watch/process.h"

using namespace burstsieve;
using namespace burstsieve::watch;
using test::TempFolder;
namespace stdfs = std::filesystem;

namespace {

std::vector<std::string> paths(const Listing& l, const std::string& root) {
  std::vector<std::string> out;
  for (const FileSeen& f : l.files) out.push_back(f.path.substr(root.size() + 1));
  return out;
}

FrameOutcome frame(const std::string& path, Verdict verdict, std::uint64_t size = 1) {
  FrameOutcome o;
  o.frame.jpeg = FileRef{path, FileKind::jpeg, "JPEG", size, 1, 1};
  o.verdict.verdict = verdict;
  if (verdict == Verdict::keep) o.verdict.rating = 4;
  return o;
}

}  // namespace

TEST_SUITE("watch/files") {
  TEST_CASE("listing: as a scan walks; loops end, sidecars and hidden names are passed over") {
    TempFolder f;
    stdfs::create_directories(f.at("b/c"));
    f.write("a.JPG", "1");
    f.write("a.JPG.xmp", "1");
    f.write(".hidden.JPG", "1");
    f.write("b/c/d.JPG", "12");
    stdfs::create_directory_symlink(f.path, f.at("b/loop"));
    stdfs::create_hard_link(f.at("a.JPG"), f.at("b/same.JPG"));
    stdfs::create_symlink("/no/where", f.at("dangling.JPG"));
    RealLister lister(32);
    const Listing l = lister.list({f.path});
    CHECK((paths(l, f.path) == std::vector<std::string>{"a.JPG", "b/c/d.JPG"}));
    CHECK(l.files[1].size == 2);
    CHECK(l.folders.size() == 3);
    CHECK(l.errors.empty());
    const Listing gone = lister.list({f.at("none"), f.path});
    REQUIRE(gone.errors.size() == 1);
    CHECK(gone.errors[0].file == f.at("none"));
    CHECK(gone.files.size() == 2);
  }

  TEST_CASE("lock: one per folder, nested ones overlap, the holder is named, a killed one leaves none") {
    TempFolder f;
    const std::string state = f.at("state");
    stdfs::create_directories(f.at("in/sub/deep"));
    stdfs::create_directories(f.at("in2"));
    stdfs::create_directory_symlink(f.at("in/sub"), f.at("alias"));
    ManualClock clock(1'790'000'000'000);
    {
      auto held = FolderLock::take(f.at("in/sub"), "watch", state, clock);
      REQUIRE(bool(held));
      for (const char* overlap : {"in/sub", "in", "in/sub/deep", "alias"}) {
        const auto other = FolderLock::take(f.at(overlap), "watch", state, clock);
        REQUIRE(!other);
        CHECK(other.error().cause == Cause::unsupported);
        CHECK(other.error().text.find("process " + std::to_string(::getpid())) != std::string::npos);
        CHECK(other.error().text.find("since 2026-09-21 14:13:20 UTC") != std::string::npos);
      }
      CHECK(bool(FolderLock::take(f.at("in2"), "watch", state, clock)));
      CHECK(FolderLock::holder_of(f.at("in"), state)->folder == held->folder());
      CHECK(!FolderLock::holder_of(f.at("in2"), state));
      CHECK(held->still_there());
      stdfs::rename(f.at("in/sub"), f.at("elsewhere"));
      CHECK(!held->still_there());
      stdfs::rename(f.at("elsewhere"), f.at("in/sub"));
    }
    CHECK(bool(FolderLock::take(f.at("in"), "watch", state, clock)));
    // A holder that is killed.
    const pid_t child = ::fork();
    if (child == 0) {
      auto lock = FolderLock::take(f.at("in"), "watch", state, clock);
      ::raise(SIGKILL);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    CHECK(WIFSIGNALED(status));
    CHECK(std::distance(stdfs::directory_iterator(state + "/locks"), {}) == 2);  // its file is still there
    CHECK(!FolderLock::holder_of(f.at("in"), state));
    CHECK(bool(FolderLock::take(f.at("in"), "nightly", state, clock)));
    CHECK(!FolderLock::take(f.at("none"), "watch", state, clock));
  }

  TEST_CASE("ledger: nothing twice, a torn last line is dropped") {
    TempFolder f;
    {
      auto l = Ledger::open(f.path, "/in");
      REQUIRE(bool(l));
      for (int i = 0; i < 3; ++i) {
        CHECK(bool(l->frame(frame("/in/a.JPG", Verdict::keep), "/in/a.JPG", 5)));
        CHECK(bool(l->failure("/in/b.JPG", "no", 5)));
      }
    }
    const std::string file =
        "ledgers/" + stdfs::directory_iterator(f.at("ledgers"))->path().filename().string();
    f.write(file, f.read(file) + "{\"n\":3,\"at_ms\":5,\"ki");
    {
      auto l = Ledger::open(f.path, "/in");
      REQUIRE(bool(l));
      CHECK(bool(l->frame(frame("/in/a.JPG", Verdict::keep), "/in/a.JPG", 6)));
      CHECK(bool(l->frame(frame("/in/a.JPG", Verdict::reject), "/in/a.JPG", 6)));
    }
    const auto lines = Ledger::read(f.path, "/in");
    REQUIRE(bool(lines));
    REQUIRE(lines->size() == 3);
    CHECK((*lines)[2].number == 3);
    CHECK((*lines)[2].verdict == "reject");
    CHECK(told_of(f.path, "/in").number == 0);
    CHECK(bool(set_told(f.path, "/in", {2, 99})));
    CHECK(bool(set_told(f.path, "/in", {3, 100})));
    CHECK(told_of(f.path, "/in").number == 3);
  }

  TEST_CASE("news: arrived, revised, gone; a JPEG whose raw came later is one frame") {
    TempFolder f;
    auto l = Ledger::open(f.path, "/in");
    REQUIRE(bool(l));
    static_cast<void>(l->frame(frame("/in/a.JPG", Verdict::keep), "b1", 1));
    static_cast<void>(l->frame(frame("/in/b.JPG", Verdict::keep), "b1", 1));
    static_cast<void>(l->frame(frame("/in/c.JPG", Verdict::undecided), "b2", 1));
    FrameOutcome pair = frame("/in/c.JPG", Verdict::keep);
    pair.frame.raw = FileRef{"/in/c.NEF", FileKind::raw, "NEF", 2, 1, 2};
    static_cast<void>(l->frame(pair, "b2", 2));                                 // 4
    static_cast<void>(l->frame(frame("/in/a.JPG", Verdict::reject), "b1", 2));  // 5
    static_cast<void>(l->gone("/in/b.JPG", 2));                                 // 6
    static_cast<void>(l->frame(frame("/in/d.JPG", Verdict::reject), "b3", 2));  // 7
    const auto lines = Ledger::read(f.path, "/in");
    REQUIRE(bool(lines));
    const auto all = news_of(*lines, 0).counts;
    CHECK(all.frames == 3);
    CHECK(all.files == 4);
    CHECK(all.bursts == 3);
    CHECK(all.keep == 1);
    CHECK(all.reject == 2);
    const auto since = news_of(*lines, 3).counts;
    CHECK(since.frames == 1);
    CHECK(since.revised == 2);  // a, and c by its new name
    CHECK(since.gone == 1);
  }

  TEST_CASE("news: the light of white birds, by camera and burst, from the ledger alone") {
    TempFolder f;
    auto l = Ledger::open(f.path, "/in");
    REQUIRE(bool(l));
    const auto white = [&](const char* path, const char* burst, double mired, int hour, const char* camera) {
      FrameOutcome o = frame(path, Verdict::keep);
      o.facts.measures.push_back({"white_mired", mired, "mired", .8, "jpeg"});
      o.facts.measures.push_back({"white_duv", .003, "", .8, "jpeg"});
      o.frame.capture.time_ms = std::int64_t{3'600'000} * hour;
      o.frame.capture.utc_offset_minutes = 60;
      static_cast<void>(l->frame(o, burst, 1, camera));
    };
    white("/in/a.JPG", "b1", 150, 6, "SO-1");
    white("/in/b.JPG", "b1", 152, 6, "SO-1");
    const std::int64_t told = 2;
    white("/in/c.JPG", "b2", 154, 9, "SO-1");
    white("/in/d.JPG", "b3", 190, 18, "SO-1");
    white("/in/e.JPG", "b4", 120, 12, "SO-2");  // one burst of that camera
    static_cast<void>(l->frame(frame("/in/f.JPG", Verdict::keep), "b5", 1));
    const auto lines = Ledger::read(f.path, "/in");
    REQUIRE(bool(lines));
    const auto all = joined({news_of(*lines, 0)}, {}, nullptr);
    REQUIRE(all.light.size() == 1);
    REQUIRE(all.light[0].bursts.size() == 3);
    CHECK(all.light[0].camera == "SO-1");
    CHECK(all.light[0].bursts[0].frames == 2);
    CHECK(all.light[0].bursts[0].mired == 151);
    CHECK(report::drift_text(all.light[0]).find("at 07:00 to 190") != std::string::npos);
    const auto since = joined({news_of(*lines, told)}, {}, nullptr);
    REQUIRE(since.light.size() == 1);
    CHECK(since.light[0].bursts.size() == 2);
  }

  TEST_CASE("summary page: closed in itself, safe against names, numbers as given") {
    report::MorningSummary s;
    s.date = "2026-11-25";
    s.written = "2026-11-25 21:34";
    s.folders.push_back({"/in/<script>alert(1)</script>", "", 10, 12, 3, 4, 5, 1, 0, 0});
    s.keepers.push_back({"/in/a\"onerror=x.JPG", "b", "sharp & near", 5, {0xFF, 0xD8, 0xFF}});
    s.failures.push_back({"/in/bad\nname.JPG", "data ends early"});
    const std::string page = report::summary_page(s);
    for (const char* bad : {"<script", "http://", "https://", "\"onerror", "url(http", "bad\nname"})
      CHECK(page.find(bad) == std::string::npos);
    for (const char* good : {"4 of 10 frames to keep", "data:image/jpeg;base64,/9j/", "prefers-color-scheme",
                             "bad\\x0aname.JPG", "data ends early", "default-src 'none'"})
      CHECK(page.find(good) != std::string::npos);
    const auto j = nlohmann::json::parse(report::morning_json(s));
    CHECK(j["total"]["keep"] == 4);
    CHECK(j["failures"][0]["reason"] == "data ends early");
    CHECK(report::morning_text(s).find("bad\\x0aname.JPG: data ends early") != std::string::npos);
    TempFolder f;
    RealFileSystem fs;
    CHECK(*write_summary(s, f.at("s"), fs) == f.at("s/2026-11-25"));
    CHECK(*write_summary(s, f.at("s"), fs) == f.at("s/2026-11-25-2"));
    CHECK(f.read("s/2026-11-25.html") == page);
  }

  TEST_CASE("inotify wakes early; folders that can't be watched cost nothing") {
    TempFolder f;
    InotifyWaker waker;
    waker.cover({f.path, "/no/such/folder"});
    f.write("a.JPG", "x");
    waker.wait(60'000);  // would be the test's time-out
    waker.wake();
    waker.wait(60'000);
    waker.cover({});
    waker.wait(1);
  }

  TEST_CASE("units: names with every awkward character pass systemd's own reading") {
    TempFolder f;
    // The program must exist for systemd-analyze: the awkward names are its path and its arguments.
    const std::string plain = "in 100% $HOME ${X} %h ä鷗;#", name = "it's 100% \"sharp\" \\ $HOME ${X} ä鷗;#";
    stdfs::create_directories(f.at(plain));
    const std::string program = f.at(plain) + "/burstsieve";
    stdfs::create_symlink(BURSTSIEVE_PROGRAM, program);
    const auto units =
        nightly_units(program, {"nightly", "--once", "--", f.at(name), "tab\there", "%h %%"}, "21:30");
    REQUIRE(bool(units));
    RealFileSystem fs;
    const std::string folder = f.at("user units");
    REQUIRE(bool(install_units(*units, folder, fs)));
    CHECK(f.read("user units/burstsieve-nightly.timer").find("OnCalendar=*-*-* 21:30:00\n") !=
          std::string::npos);
    // systemd-analyze exits 0 on unknown keys: only its silence counts.
    const std::string quoted = "'" + folder + "/";
    const std::string command = "systemd-analyze --user verify " + quoted + kServiceName + "' " + quoted +
                                kTimerName + "' >'" + f.at("said") + "' 2>&1";
    CHECK(std::system(("XDG_RUNTIME_DIR='" + f.path + "' HOME='" + f.path + "' " + command).c_str()) == 0);
    CHECK(f.read("said") == "");
    // The same reading with a program that is not there: what systemd then names is what it would have run.
    const auto lost = nightly_units(program + " no", {}, "21:30");
    REQUIRE(bool(lost));
    f.write("user units/burstsieve-nightly.service", lost->service);
    static_cast<void>(
        std::system(("XDG_RUNTIME_DIR='" + f.path + "' HOME='" + f.path + "' " + command).c_str()));
    CHECK(f.read("said").find(program + " no is not executable") != std::string::npos);

    CHECK(!nightly_units("/it's/burstsieve", {}, "21:30"));
    CHECK(!exec_word("\xff\xfe"));
    for (const char* bad : {"", "2130", "24:00", "21:60", "21:30:61", "21:30 ", "daily", "21:30:00; rm"})
      CHECK(!daily_at(bad));
  }

  TEST_CASE("units: only what is ours and unchanged is replaced or removed") {
    TempFolder f;
    RealFileSystem fs;
    const auto units = nightly_units("/bin/true", {}, "06:00");
    REQUIRE(bool(units));
    REQUIRE(bool(install_units(*units, f.path, fs)));
    REQUIRE(bool(install_units(*units, f.path, fs)));  // ours: again
    f.write(kTimerName, f.read(kTimerName) + "# mine\n");
    const auto refused = install_units(*units, f.path, fs);
    REQUIRE(!refused);
    CHECK(refused.error().file == f.at(kTimerName));
    const auto removal = remove_units(f.path, fs);
    REQUIRE(bool(removal));
    CHECK((removal->removed == std::vector<std::string>{f.at(kServiceName)}));
    REQUIRE(removal->left.size() == 1);
    CHECK(stdfs::exists(f.at(kTimerName)));
  }

  TEST_CASE(
      "nightly as a process: a raw first, its JPEG the next day; equals a plain cull; summaries; watched "
      "folders") {
    TempFolder f;
    const stdfs::path source = std::string(BURSTSIEVE_SOURCE_DIR) + "/sample-bursts/DCIM/100HARBR";
    stdfs::create_directories(f.at("home"));
    stdfs::create_directories(f.at("in/100HARBR"));
    const auto bring = [&](const char* suffix) {
      for (const auto& e : stdfs::directory_iterator(source))
        if (e.path().extension() == suffix)
          stdfs::copy_file(e.path(), stdfs::path(f.at("in/100HARBR")) / e.path().filename());
    };
    const std::vector<std::string> nightly{"nightly", "--once", "--settle",  ".05",       "--quiet-time",
                                           ".1",      "--poll", ".05",       "--nice",    "0",
                                           "--disk",  "normal", "--summary", f.at("sum"), f.at("in")};
    bring(".DNG");
    CHECK(test::run(f.at("home"), nightly) == 0);
    bring(".JPG");
    CHECK(test::run(f.at("home"), nightly) == 0);
    std::vector<nlohmann::json> told;
    for (const auto& e : stdfs::directory_iterator(f.at("sum")))
      if (e.path().extension() == ".json")
        told.push_back(nlohmann::json::parse(f.read("sum/" + e.path().filename().string())));
    REQUIRE(told.size() == 2);
    std::sort(told.begin(), told.end(),
              [](const auto& a, const auto& b) { return a["total"]["frames"] > b["total"]["frames"]; });
    CHECK(told[0]["total"]["frames"] == 7);
    CHECK(told[1]["total"]["frames"] == 0);
    CHECK(told[1]["total"]["revised"].get<int>() > 0);

    // By another way to the same folder, and beside one that is not there: nothing arrives twice, the rest of
    // the night's work is done.
    stdfs::create_directory_symlink(f.at("in"), f.at("link"));
    auto otherwise = nightly;
    otherwise.back() = f.at("link");
    otherwise.push_back(f.at("share"));
    CHECK(test::run(f.at("home"), otherwise) == 1);
    std::size_t frames = 0, pages = 0;
    bool named = false;
    for (const auto& e : stdfs::directory_iterator(f.at("sum")))
      if (e.path().extension() == ".json") {
        const auto page = nlohmann::json::parse(f.read("sum/" + e.path().filename().string()));
        frames += page["total"]["frames"].get<std::size_t>();
        ++pages;
        for (const auto& failure : page["failures"]) named |= failure["file"] == f.at("share");
      }
    CHECK(pages == 3);
    CHECK(frames == 7);
    CHECK(named);

    // Started with its streams closed, as a job may be: what it prints must not run into the ledger.
    std::string closed = "HOME='" + f.at("closed-home") + "' '" BURSTSIEVE_PROGRAM "'";
    for (const std::string& word : nightly) closed += " '" + word + "'";
    stdfs::create_directories(f.at("closed-home"));
    CHECK(
        std::system(("env -u XDG_DATA_HOME -u XDG_STATE_HOME -u XDG_CONFIG_HOME " + closed + " <&- >&- 2>&-")
                        .c_str()) == 0);
    std::size_t lines = 0;
    for (const auto& e : stdfs::directory_iterator(f.at("closed-home/.local/state/burstsieve/ledgers")))
      if (e.path().extension() == ".jsonl") {
        std::istringstream text(
            f.read("closed-home/.local/state/burstsieve/ledgers/" + e.path().filename().string()));
        for (std::string line; std::getline(text, line); ++lines) CHECK(nlohmann::json::accept(line));
      }
    CHECK(lines == 7);

    stdfs::create_directories(f.at("plain-home"));
    stdfs::copy(source, f.at("plain"));
    CHECK(test::run(f.at("plain-home"), {"cull", "-q", f.at("plain")}) == 0);
    std::size_t compared = 0;
    for (const auto& e : stdfs::directory_iterator(f.at("plain")))
      if (e.path().extension() == ".xmp") {
        const std::string name = e.path().filename().string();
        CHECK((f.read("plain/" + name) == f.read("in/100HARBR/" + name)));
        ++compared;
      }
    CHECK(compared == 7);

    SystemClock clock;
    const auto lock = FolderLock::take(f.at("in"), "watch", f.at("home/.local/state/burstsieve"), clock);
    REQUIRE(bool(lock));
    CHECK(test::run(f.at("home"), {"cull", f.at("in/100HARBR")}) == 3);
    CHECK(test::run(f.at("home"), {"cull", "-q", "--dry-run", f.at("in")}) == 0);
    CHECK(test::run(f.at("home"), {"watch", f.at("in/100HARBR")}) == 3);
    CHECK(test::run(f.at("home"), nightly) == 0);  // the summary only
    CHECK(f.read("home/err").find("only the summary is written") != std::string::npos);
    CHECK(test::run(f.at("home"), {"nightly", "--install", "--at", "25:00", f.at("in")}) == 2);
    CHECK(test::run(f.at("home"), {"nightly", f.at("in")}) == 2);
    CHECK(test::run(f.at("home"), {"nightly", "--install", "--at", "21:30", "--sidecar-naming", "plain",
                                   "--sidecars", f.at("side"), f.at("in")}) == 0);
    const std::string unit = f.read(std::string("home/.config/systemd/user/") + kServiceName);
    CHECK(unit.find("\"--once\" ") != std::string::npos);
    CHECK(unit.find("\"--sidecars=" + f.at("side") + "\"") != std::string::npos);
    CHECK(unit.find("\"--\" \"" + stdfs::canonical(f.at("in")).string() + "\"") != std::string::npos);
    CHECK(test::run(f.at("home"), {"nightly", "--uninstall"}) == 0);
    CHECK(!stdfs::exists(f.at(std::string("home/.config/systemd/user/") + kServiceName)));
  }
}
