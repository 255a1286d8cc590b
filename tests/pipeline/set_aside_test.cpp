// set-aside on real files: what goes, what stays, and that everything comes back as it was.
#include "burstsieve/pipeline/set_aside.h"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>

#include "burstsieve/base/checksum.h"
#include "pipeline/aside_recorder.h"
#include "pipeline/sample.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using pipeline::SetAsideSummary;
using test::SampleFolder;

namespace {

// Less caution than by default: more to move.
pipeline::CullOptions with_many_rejects() {
  pipeline::CullOptions options;
  options.policy.sure = .6;
  return options;
}

namespace stdfs = std::filesystem;

// The samples, culled once for all tests here.
const SampleFolder& culled() {
  static SampleFolder* folder = [] {
    auto* s = new SampleFolder;  // lives as long as the program; the temporary folder is removed below
    test::Recorder run;
    s->cull(run, with_many_rejects());
    return s;
  }();
  static const struct Remover {
    ~Remover() { delete folder; }
  } remover;
  return *folder;
}

// Bytes, time of change and permissions of every file below, by relative path.
std::map<std::string, std::string> snapshot(const std::string& folder) {
  std::map<std::string, std::string> out;
  for (const auto& e : stdfs::recursive_directory_iterator(folder)) {
    if (!e.is_regular_file() && !e.is_symlink()) continue;
    struct stat st {};
    REQUIRE(::lstat(e.path().c_str(), &st) == 0);
    std::ifstream in(e.path(), std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), {}};
    out[stdfs::relative(e.path(), folder).string()] = std::to_string(st.st_mtim.tv_sec) + "." +
                                                      std::to_string(st.st_mtim.tv_nsec) + " " +
                                                      std::to_string(st.st_mode) + " " + bytes;
  }
  return out;
}

struct Shoot {
  Shoot() {
    stdfs::copy(culled().folder.at("DCIM"), s.folder.at("DCIM"), stdfs::copy_options::recursive);
    dir = s.folder.at("aside");
  }

  Result<SetAsideSummary> try_aside(bool dry_run = false) {
    told = {};
    auto catalog = Catalog::open(s.folder.at("catalog.sqlite"), kEngineVersion);
    REQUIRE(catalog);
    RealFileSystem fs;
    SystemClock clock;
    pipeline::SetAsideOptions options;
    options.dir = dir;
    options.places = {s.folder.at("DCIM")};
    options.sidecars = sidecars;
    options.dry_run = dry_run;
    return pipeline::set_aside(options, *catalog, fs, clock, told);
  }
  SetAsideSummary aside(bool dry_run = false) {
    auto done = try_aside(dry_run);
    REQUIRE_MESSAGE(done, done.error().line());
    return *done;
  }
  SetAsideSummary back(bool dry_run = false) {
    told = {};
    RealFileSystem fs;
    SystemClock clock;
    auto done = pipeline::set_back(dir, dry_run, 0, fs, clock, told);
    REQUIRE_MESSAGE(done, done.error().line());
    return *done;
  }
  bool exists(const std::string& name) const {
    return stdfs::exists(stdfs::symlink_status(s.folder.at(name)));
  }
  std::map<std::string, std::string> photographs() const { return snapshot(s.folder.at("DCIM")); }
  // Among what was told, one line with all of these words.
  static bool says(const std::vector<std::string>& lines, const std::vector<std::string>& words) {
    return std::any_of(lines.begin(), lines.end(), [&](const std::string& line) {
      return std::all_of(words.begin(), words.end(),
                         [&](const std::string& w) { return line.find(w) != std::string::npos; });
    });
  }

  SampleFolder s{false};
  std::string dir;
  std::string sidecars;  // --sidecars
  test::AsideRecorder told;
};

// Rejected of the sample bursts by this engine; some, or the tests say nothing.
std::size_t rejected() {
  static const std::size_t count = [] {
    SampleFolder s;
    test::Recorder run;
    pipeline::CullOptions options;
    options.dry_run = true;
    return s.cull(run, options).reject;
  }();
  REQUIRE(count >= 5);
  return count;
}
const std::string kOne = "DCIM/101SALTM/BSG_0014.JPG", kOneAside = "aside/101SALTM/BSG_0014.JPG";

struct Ran {
  int code = -1;
  std::string out, err;
};

Ran run(const SampleFolder& s, const std::string& arguments) {
  const std::string out = s.folder.at("stdout"), err = s.folder.at("stderr");
  const std::string command = "env -u XDG_DATA_HOME -u XDG_CONFIG_HOME HOME='" + s.folder.path +
                              "' '" BURSTSIEVE_PROGRAM "' " + arguments + " >'" + out + "' 2>'" + err +
                              "' </dev/null";
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, s.folder.read("stdout"), s.folder.read("stderr")};
}

// A folder on another file system than the temporary ones; empty where there is none.
struct OtherDisk {
  OtherDisk() {
    std::string name = "/dev/shm/burstsieve-test-XXXXXX";
    struct stat here {
    }, there{};
    if (::mkdtemp(name.data()) == nullptr) return;
    if (::stat(name.c_str(), &there) == 0 && ::stat(stdfs::temp_directory_path().c_str(), &here) == 0 &&
        here.st_dev != there.st_dev)
      path = name;
    else
      ::rmdir(name.c_str());
  }
  ~OtherDisk() {
    std::error_code ignored;
    if (!path.empty()) stdfs::remove_all(path, ignored);
  }
  std::string path;
};

// Every file of `before` stands, whole, at its old place or below `dir`.
bool all_somewhere(const std::map<std::string, std::string>& before, const std::string& folder,
                   const std::string& dir) {
  const auto here = snapshot(folder),
             there = stdfs::exists(dir) ? snapshot(dir) : std::map<std::string, std::string>();
  for (const auto& [name, what] : before) {
    bool whole = false;
    for (const auto* files : {&here, &there}) {
      const auto it = files->find(name);
      if (it == files->end()) continue;
      if (it->second != what) return false;
      whole = true;
    }
    if (!whole) return false;
  }
  return true;
}

}  // namespace

TEST_SUITE("pipeline/set_aside") {
  TEST_CASE("rejects go with their sidecars and come back exactly: bytes, names, times, permissions") {
    Shoot shoot;
    REQUIRE(::chmod(shoot.s.folder.at(kOne).c_str(), 0440) == 0);
    shoot.s.folder.write("DCIM/101SALTM/BSG_0014.WAV", "a gull");
    const auto before = shoot.photographs();
    const auto look = shoot.aside(true);
    CHECK(look.frames == rejected());
    CHECK_FALSE(shoot.exists("aside"));
    CHECK((shoot.photographs() == before));

    const auto done = shoot.aside();
    CHECK(done.frames == rejected());
    CHECK(done.files == look.files);
    CHECK(done.bytes == look.bytes);
    CHECK(shoot.told.errors.empty());
    CHECK(shoot.exists(kOneAside));
    CHECK(shoot.exists(kOneAside + ".xmp"));
    CHECK_FALSE(shoot.exists(kOne));
    CHECK(shoot.exists("DCIM/101SALTM/BSG_0014.WAV"));
    CHECK(Shoot::says(shoot.told.notes, {"BSG_0014.WAV: stays"}));
    CHECK(all_somewhere(before, shoot.s.folder.at("DCIM"), shoot.dir));
    CHECK(shoot.aside().frames == 0);

    CHECK(shoot.back(true).frames == rejected());
    CHECK(shoot.back().frames == rejected());
    CHECK(shoot.told.errors.empty());
    CHECK((shoot.photographs() == before));
    CHECK(snapshot(shoot.dir).size() == 1);
    // And all over again with the same folder and record.
    CHECK(shoot.aside().frames == rejected());
    CHECK(shoot.back().frames == rejected());
    CHECK((shoot.photographs() == before));
  }

  // XXH128 of nothing and of "a" with seed 0, as xxhsum -H2 (Debian's xxhash 0.8.1) prints them.
  TEST_CASE("the checksum is the one that xxhsum -H2 prints") {
    CHECK(Checksum().text() == "99aa06d3014798d86001c324468d497f");
    Checksum a;
    a.add(test::bytes_of("a"));
    CHECK(a.text() == "a96faf705af16834e6c632b61e964e1f");
  }

  TEST_CASE("a person's word decides: a rating or a cleared one keeps, their -1 rejects") {
    Shoot shoot;
    const auto written = shoot.s.folder.read(kOne + ".xmp");
    const auto with = [&](const std::string& rating) {
      std::string text = written;
      const std::string ours = "<xmp:Rating>-1</xmp:Rating>";
      text.replace(text.find(ours), ours.size(), rating);
      return text;
    };
    for (const char* rating : {"<xmp:Rating>0</xmp:Rating>", "<xmp:Rating>3</xmp:Rating>", ""}) {
      shoot.s.folder.write(kOne + ".xmp", with(rating));
      const auto look = shoot.aside(true);
      CHECK(look.frames == rejected() - 1);
      CHECK(look.theirs >= 1);
    }
    // In a second sidecar of the frame, too; and with a suffix nobody expects.
    shoot.s.folder.write(kOne + ".xmp", written);
    shoot.s.folder.write("DCIM/101SALTM/BSG_0014.xMp", test::rated("1"));
    CHECK(shoot.aside(true).frames == rejected() - 1);
    shoot.s.folder.write("DCIM/101SALTM/BSG_0014.xMp", test::rated("-1"));
    CHECK(shoot.aside(true).frames == rejected());
    const auto by = std::find_if(shoot.told.frames.begin(), shoot.told.frames.end(),
                                 [](const auto& f) { return f.name.ends_with("BSG_0014.JPG"); });
    REQUIRE(by != shoot.told.frames.end());
    CHECK(by->by == "person");
    CHECK(by->files.size() == 3);
  }

  TEST_CASE("what can't be trusted stays, and is named") {
    Shoot shoot;
    const std::string folder = "DCIM/101SALTM/";
    SUBCASE("a damaged sidecar") {
      shoot.s.folder.write(kOne + ".xmp", "<x:xmpmeta");
      shoot.aside();
      CHECK(Shoot::says(shoot.told.errors, {"BSG_0014.JPG.xmp", "its frame stays"}));
    }
    SUBCASE("a sidecar of another photograph of the same name") {
      shoot.s.folder.write(kOne, shoot.s.folder.read(kOne) + "x");
      shoot.aside();
      CHECK(Shoot::says(shoot.told.errors, {"BSG_0014.JPG.xmp", "another photograph of this name"}));
    }
    SUBCASE("a symbolic link in place of a photograph") {
      stdfs::rename(shoot.s.folder.at(kOne), shoot.s.folder.at("elsewhere.jpg"));
      stdfs::create_symlink(shoot.s.folder.at("elsewhere.jpg"), shoot.s.folder.at(kOne));
      shoot.aside();
      CHECK(Shoot::says(shoot.told.errors, {"BSG_0014.JPG", "symbolic link"}));
    }
    SUBCASE("a name that is taken") {
      stdfs::create_directories(shoot.s.folder.at("aside/101SALTM"));
      shoot.s.folder.write(kOneAside + ".xmp", "somebody's");
      shoot.aside();
      CHECK(Shoot::says(shoot.told.errors, {"BSG_0014.JPG.xmp", "exists already"}));
      CHECK(shoot.s.folder.read(kOneAside + ".xmp") == "somebody's");
    }
    SUBCASE("a sidecar shared with another frame") {
      shoot.s.folder.write("DCIM/101SALTM/BSG_0014.jpeg",
                           shoot.s.folder.read("DCIM/101SALTM/BSG_0004.JPG") + "x");
      shoot.s.folder.write("DCIM/101SALTM/BSG_0014.xmp", test::rated("-1"));
      shoot.aside();
      CHECK(Shoot::says(shoot.told.errors, {"BSG_0014", "is also that of"}));
    }
    CHECK(shoot.exists(kOne));
    CHECK_FALSE(stdfs::exists(shoot.s.folder.at(kOneAside)));
    CHECK(shoot.exists("aside/101SALTM/BSG_0013.JPG"));  // the others go all the same
  }

  TEST_CASE("the last frame of a burst stays, even when a person rejects them all") {
    Shoot shoot;
    for (const auto& [name, text] : shoot.s.contents(true)) shoot.s.folder.write(name, test::rated("-1"));
    const auto done = shoot.aside();
    CHECK(done.spared == 5);
    CHECK(done.frames == 25);
    CHECK(Shoot::says(shoot.told.notes, {"nothing else is left of its burst"}));
  }

  TEST_CASE("folders that overlap are refused, and records that are not ours") {
    Shoot shoot;
    for (const char* name : {"DCIM/aside", "DCIM", "."}) {
      shoot.dir = shoot.s.folder.at(name);
      CHECK_FALSE(shoot.try_aside());
    }
    shoot.dir = shoot.s.folder.at("aside");
    stdfs::create_directories(shoot.dir);
    for (const char* text : {"a letter\n", "{\"format\":\"other\"}\n", ""}) {
      shoot.s.folder.write("aside/set-aside.jsonl", text);
      const auto done = shoot.try_aside();
      REQUIRE_FALSE(done);
      CHECK(done.error().text == "is not a record of set-aside frames");
      CHECK(shoot.s.folder.read("aside/set-aside.jsonl") == text);
    }
  }

  TEST_CASE("a record cut in its last line is mended; one damaged elsewhere still brings the others back") {
    Shoot shoot;
    const auto before = shoot.photographs();
    shoot.aside();
    const std::string record = shoot.s.folder.read("aside/set-aside.jsonl");
    shoot.s.folder.write("aside/set-aside.jsonl", record + "{\"state\":\"planned\",\"fra");
    shoot.s.folder.write("DCIM/101SALTM/BSG_0099.txt", "later");
    CHECK(shoot.back().frames == rejected());
    stdfs::remove(shoot.s.folder.at("DCIM/101SALTM/BSG_0099.txt"));
    CHECK((shoot.photographs() == before));

    stdfs::remove(shoot.s.folder.at("aside/set-aside.jsonl"));
    shoot.aside();
    std::string damaged = shoot.s.folder.read("aside/set-aside.jsonl");
    damaged.replace(damaged.find("\"frame\":3,\"run\""), 9, "\"frame\":?");
    shoot.s.folder.write("aside/set-aside.jsonl", damaged);
    CHECK_FALSE(shoot.try_aside());
    CHECK(shoot.back().frames == rejected() - 1);
    CHECK(Shoot::says(shoot.told.errors, {"set-aside.jsonl", "line 6 can't be read"}));
  }

  TEST_CASE(
      "the way back: changed files come back as they are, taken places are left, gone files are named") {
    Shoot shoot;
    shoot.aside();
    shoot.s.folder.write(kOneAside + ".xmp", test::rated("4"));
    shoot.s.folder.write("DCIM/101SALTM/BSG_0013.JPG", "another picture");
    stdfs::remove(shoot.s.folder.at("aside/101SALTM/BSG_0004.JPG"));
    const auto done = shoot.back();
    CHECK(done.frames == rejected() - 1);
    CHECK(done.changed == 1);
    CHECK(done.gone == 1);
    CHECK(shoot.s.folder.read(kOne + ".xmp") == test::rated("4"));
    CHECK(Shoot::says(shoot.told.notes, {"BSG_0014.JPG.xmp", "was changed while it was set aside"}));
    CHECK(shoot.s.folder.read("DCIM/101SALTM/BSG_0013.JPG") == "another picture");
    CHECK(Shoot::says(shoot.told.errors, {"BSG_0013.JPG: exists again"}));
    CHECK(shoot.exists("aside/101SALTM/BSG_0013.JPG.xmp"));
    CHECK(shoot.exists("DCIM/101SALTM/BSG_0004.JPG.xmp"));
    CHECK(Shoot::says(shoot.told.notes, {"BSG_0004.JPG: is gone"}));
    // A card that is not mounted is no empty folder.
    stdfs::remove(shoot.s.folder.at("DCIM/101SALTM/BSG_0013.JPG"));
    stdfs::rename(shoot.s.folder.at("DCIM"), shoot.s.folder.at("unplugged"));
    CHECK(shoot.back().frames == 0);
    CHECK(Shoot::says(shoot.told.errors, {"is its disk or card mounted?"}));
    CHECK_FALSE(shoot.exists("DCIM"));
    stdfs::rename(shoot.s.folder.at("unplugged"), shoot.s.folder.at("DCIM"));
    CHECK(shoot.back().frames == 1);
  }

  TEST_CASE("two folders get one each; names that are no UTF-8 survive") {
    Shoot shoot;
    const std::string odd = "DCIM/101SALTM/100%\xe4\n.JPG";
    for (const char* suffix : {"", ".xmp"})
      stdfs::rename(shoot.s.folder.at(kOne + suffix), shoot.s.folder.at(odd + suffix));
    stdfs::rename(shoot.s.folder.at("DCIM/100HARBR"), shoot.s.folder.at("HARBR"));
    const auto before = shoot.photographs(), harbour = snapshot(shoot.s.folder.at("HARBR"));
    REQUIRE(run(shoot.s, "set-aside '" + shoot.dir + "/' '" + shoot.s.folder.at("DCIM") + "' '" +
                             shoot.s.folder.at("HARBR") + "'")
                .code == 0);
    CHECK(shoot.exists("aside/DCIM/101SALTM/100%\xe4\n.JPG.xmp"));
    CHECK(shoot.exists("aside/HARBR/MRS_0216.DNG"));
    CHECK(shoot.s.folder.read("aside/set-aside.jsonl").find("100%25%E4%0A.JPG") != std::string::npos);
    CHECK(shoot.back().frames == rejected());
    CHECK((shoot.photographs() == before));
    CHECK((snapshot(shoot.s.folder.at("HARBR")) == harbour));
  }

  TEST_CASE("sidecars in a folder of their own are asked, go along, and come back to it") {
    Shoot shoot;
    for (const auto& [name, text] : shoot.s.contents(true)) {
      const std::string to = shoot.s.folder.at("side" + name.substr(4));
      stdfs::create_directories(folder_of(to));
      stdfs::rename(shoot.s.folder.at(name), to);
    }
    CHECK(shoot.aside(true).frames == 0);
    const auto photographs = shoot.photographs(), side = snapshot(shoot.s.folder.at("side"));
    shoot.sidecars = shoot.s.folder.at("side");
    CHECK(shoot.aside().frames == rejected());
    CHECK(shoot.exists(kOneAside + ".xmp"));
    CHECK_FALSE(shoot.exists("side/101SALTM/BSG_0014.JPG.xmp"));
    CHECK(shoot.back().frames == rejected());
    CHECK((shoot.photographs() == photographs));
    CHECK((snapshot(shoot.s.folder.at("side")) == side));
  }

  TEST_CASE("the command: the last run's folders, exit codes, JSON, history") {
    SampleFolder s;
    CHECK(run(s, "set-aside '" + s.folder.at("aside") + "'").code == 3);  // nothing culled yet
    REQUIRE(run(s, "cull -q --sure .6 '" + s.folder.at("DCIM") + "'").code == 0);
    REQUIRE(run(s, "cull -q --sure .6 --dry-run '" + s.folder.at("DCIM/101SALTM") + "'").code == 0);
    const auto before = snapshot(s.folder.at("DCIM"));
    const Ran wrong =
        run(s, "set-aside --sidecars '" + s.folder.at("side") + "' --dry-run '" + s.folder.at("aside") + "'");
    CHECK(wrong.out.find("Would set aside " + std::to_string(rejected()) + " frames") !=
          std::string::npos);  // those beside are asked as well
    const Ran done = run(s, "set-aside --json '" + s.folder.at("aside") + "'");
    CHECK(done.code == 0);
    std::istringstream lines(done.out);
    std::vector<nlohmann::json> json;
    for (std::string line; std::getline(lines, line);) json.push_back(nlohmann::json::parse(line));
    REQUIRE(json.size() == rejected() + 2);
    CHECK(json.front()["path"] == s.folder.at("DCIM"));
    CHECK(json[1]["type"] == "aside");
    CHECK(json.back()["frames"] == rejected());
    CHECK(run(s, "set-aside '" + s.folder.at("aside") + "'").out.find("From the last culling run: ") == 0);
    CHECK(run(s, "set-aside --back '" + s.folder.at("aside") + "' x").code == 2);
    CHECK(run(s, "set-aside --back '" + s.folder.at("DCIM") + "'").code == 3);
    CHECK(run(s, "set-aside '" + s.folder.at("DCIM/aside") + "'").code == 3);
    const Ran back = run(s, "set-aside --back '" + s.folder.at("aside") + "'");
    CHECK(back.code == 0);
    CHECK(back.out.find("Put back " + std::to_string(rejected()) + " frames") != std::string::npos);
    CHECK((snapshot(s.folder.at("DCIM")) == before));
    const std::string history = run(s, "history").out;
    CHECK(history.find("(set aside)") != std::string::npos);
    CHECK(history.find("(set aside, back)") != std::string::npos);
  }

  TEST_CASE("to another file system and back: the same bytes, times and permissions") {
    OtherDisk other;
    if (other.path.empty()) {
      MESSAGE("SKIPPED: there is no second file system at /dev/shm");
      return;
    }
    Shoot shoot;
    shoot.dir = other.path + "/aside";
    REQUIRE(::chmod(shoot.s.folder.at(kOne).c_str(), 0440) == 0);
    const auto before = shoot.photographs();
    CHECK(shoot.aside().frames == rejected());
    CHECK(shoot.told.errors.empty());
    CHECK_FALSE(shoot.exists(kOne));
    CHECK(all_somewhere(before, shoot.s.folder.at("DCIM"), shoot.dir));
    CHECK(shoot.back().frames == rejected());
    CHECK((shoot.photographs() == before));
  }

  TEST_CASE("kill -9 at random moments: nothing is lost, the next run completes") {
    OtherDisk other;
    std::mt19937 random(20261125);
    for (const bool far : {false, true}) {
      if (far && other.path.empty()) {
        MESSAGE("SKIPPED: there is no second file system at /dev/shm");
        continue;
      }
      Shoot shoot;
      shoot.dir = far ? other.path + "/aside" : shoot.s.folder.at("aside");
      const auto before = shoot.photographs();
      const std::string catalog = shoot.s.folder.at("catalog.sqlite"), place = shoot.s.folder.at("DCIM");
      int killed = 0;
      for (int round = 0; round < 16; ++round) {
        const bool back = round % 4 == 3;
        const pid_t child = ::fork();
        REQUIRE(child >= 0);
        if (child == 0) {
          const int nowhere = ::open("/dev/null", O_WRONLY);
          ::dup2(nowhere, 1);
          ::dup2(nowhere, 2);
          if (back)
            ::execl(BURSTSIEVE_PROGRAM, "burstsieve", "set-aside", "--back", "--catalog", catalog.c_str(),
                    shoot.dir.c_str(), nullptr);
          else
            ::execl(BURSTSIEVE_PROGRAM, "burstsieve", "set-aside", "--catalog", catalog.c_str(),
                    shoot.dir.c_str(), place.c_str(), nullptr);
          ::_exit(127);
        }
        ::usleep(static_cast<useconds_t>(20'000 + random() % 180'000));
        ::kill(child, SIGKILL);
        int status = 0;
        REQUIRE(::waitpid(child, &status, 0) == child);
        killed += WIFSIGNALED(status);
        REQUIRE(all_somewhere(before, place, shoot.dir));
      }
      MESSAGE(std::string(far ? "two file systems: " : "one file system: ")
              << killed << " of 16 runs killed");
      shoot.aside();
      CHECK(shoot.told.errors.empty());
      CHECK(shoot.back().frames == rejected());
      CHECK(shoot.told.errors.empty());
      CHECK((shoot.photographs() == before));
      for (const auto& [name, what] : snapshot(shoot.dir))
        CHECK_MESSAGE((name == "set-aside.jsonl" || name.find('/') == std::string::npos), name);
    }
  }
}
