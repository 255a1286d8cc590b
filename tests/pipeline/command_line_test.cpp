// burstsieve as a user meets it: a process with options, exit codes and lines.
#include <doctest/doctest.h>
#include <sys/wait.h>

#include <cstdio>
#include <nlohmann/json.hpp>
#include <sstream>

#include "pipeline/sample.h"

using namespace burstsieve;
using test::SampleFolder;

namespace {

struct Ran {
  int code = -1;
  std::string out, err;
};

// HOME is the test's own folder: no configuration or catalogue of the user's takes part.
// `last`: where the streams go instead; the shell goes by the last word.
Ran run(const SampleFolder& s, const std::string& arguments, const std::string& last = "") {
  const std::string out = s.folder.at("stdout"), err = s.folder.at("stderr");
  const std::string command = "env -u XDG_DATA_HOME -u XDG_CONFIG_HOME HOME='" + s.folder.path +
                              "' '" BURSTSIEVE_PROGRAM "' " + arguments + " >'" + out + "' 2>'" + err +
                              "' </dev/null " + last;
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, s.folder.read("stdout"), s.folder.read("stderr")};
}

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream in(text);
  std::vector<std::string> out;
  for (std::string line; std::getline(in, line);) out.push_back(line);
  return out;
}

}  // namespace

TEST_SUITE("pipeline/command_line") {
  TEST_CASE("cull: tables, summary, catalogue in the XDG data folder, second run recomputes nothing") {
    SampleFolder s;
    const Ran first = run(s, "cull '" + s.folder.at("DCIM") + "'");
    CHECK(first.code == 0);
    CHECK(first.err.empty());
    CHECK(first.out.find("Burst 5") != std::string::npos);
    CHECK(first.out.find("Verdicts ") != std::string::npos);
    CHECK(std::filesystem::exists(s.folder.at(".local/share/burstsieve/catalog.sqlite")));
    const Ran second = run(s, "cull -q '" + s.folder.at("DCIM") + "'");
    CHECK(second.code == 0);
    CHECK(second.out.find("Measured nothing: all 30 frames are known from an earlier run") !=
          std::string::npos);
    CHECK(second.out.find("Burst 5") == std::string::npos);
  }

  // The set was rendered under one sun and one white balance.
  TEST_CASE("cull ends with the light: constant over the sample bursts, the same when remembered") {
    SampleFolder s;
    const auto light = [](const Ran& r) {
      std::vector<std::string> out;
      for (const std::string& line : lines_of(r.out))
        if (line.starts_with("Light ")) out.push_back(line);
      return out;
    };
    const auto first = light(run(s, "cull -q '" + s.folder.at("DCIM") + "'"));
    REQUIRE(!first.empty());  // of two cameras, one may show too few white birds
    for (const std::string& line : first) CHECK(line.find("white plumage constant") != std::string::npos);
    CHECK((light(run(s, "cull -q '" + s.folder.at("DCIM") + "'")) == first));
    const auto json = lines_of(run(s, "cull -q --json '" + s.folder.at("DCIM") + "'").out);
    REQUIRE(json.size() == 1);
    const auto summary = nlohmann::json::parse(json[0]);
    REQUIRE(summary["light"].size() == first.size());
    CHECK("Light    " + summary["light"][0]["text"].get<std::string>() == first[0]);
    CHECK(summary["light"][0]["bursts"].size() >= 2);
  }

  TEST_CASE("--json prints one valid object per line, bursts first, a summary last") {
    SampleFolder s;
    const Ran r = run(s, "cull --dry-run --json '" + s.folder.at("DCIM") + "'");
    REQUIRE(r.code == 0);
    const auto lines = lines_of(r.out);
    REQUIRE(lines.size() == 6);
    for (std::size_t i = 0; i < 5; ++i) CHECK(nlohmann::json::parse(lines[i])["type"] == "burst");
    const auto summary = nlohmann::json::parse(lines.back());
    CHECK(summary["type"] == "summary");
    CHECK(summary["frames"] == 30);
    CHECK(summary["keep"].get<int>() + summary["reject"].get<int>() + summary["undecided"].get<int>() == 30);
  }

  TEST_CASE("explain: from the catalogue, and alone before any run") {
    SampleFolder s;
    const std::string file = "'" + s.folder.at("DCIM/101SALTM/BSG_0014.JPG") + "'";
    const Ran alone = run(s, "explain " + file);
    CHECK(alone.code == 0);
    CHECK(alone.out.find("measured alone") != std::string::npos);
    REQUIRE(run(s, "cull '" + s.folder.at("DCIM") + "'").code == 0);
    const Ran known = run(s, "explain " + file);
    CHECK(known.code == 0);
    CHECK(known.out.find("measured alone") == std::string::npos);
    CHECK(known.out.find("verdict  reject, rating -1") != std::string::npos);
    CHECK(known.out.find("limit 6.0 px") != std::string::npos);
    CHECK(known.out.find("blur_sigma_px") != std::string::npos);
    CHECK(nlohmann::json::parse(run(s, "explain --json " + file).out)["verdict"] == "reject");
  }

  TEST_CASE("exit codes: 1 for a bad file, 2 for wrong words, 3 for what can't run") {
    SampleFolder s;
    std::string jpeg = s.folder.read("DCIM/101SALTM/BSG_0012.JPG");
    s.folder.write("DCIM/101SALTM/BSG_0012.JPG", jpeg.substr(0, jpeg.size() / 3));
    const Ran bad = run(s, "cull -q '" + s.folder.at("DCIM") + "'");
    CHECK(bad.code == 1);
    REQUIRE(lines_of(bad.err).size() == 1);
    CHECK(bad.err.find("BSG_0012.JPG: ") != std::string::npos);
    CHECK(run(s, "").code == 2);
    CHECK(run(s, "cull").code == 2);
    CHECK(run(s, "cull --nonsense x").code == 2);
    CHECK(run(s, "cull /no/such/folder").code == 3);
    CHECK(run(s, "explain /no/such/file.jpg").code == 3);
    CHECK(run(s, "cull --sure 7 '" + s.folder.at("DCIM") + "'").code == 2);
    CHECK(run(s, "cull --soft inf '" + s.folder.at("DCIM") + "'").code == 2);
    s.folder.write("not-a-catalogue", "a letter to a friend");
    CHECK(run(s, "cull --catalog '" + s.folder.at("not-a-catalogue") + "' '" + s.folder.at("DCIM") + "'")
              .code == 3);
    CHECK(s.folder.read("not-a-catalogue") == "a letter to a friend");
    CHECK(run(s, "--help").code == 0);
    CHECK(run(s, "--version").out.starts_with("burstsieve "));
  }

  TEST_CASE("nobody takes what is printed: the work is done all the same") {
    SampleFolder s;
    const std::string jpeg = s.folder.read("DCIM/101SALTM/BSG_0012.JPG");
    s.folder.write("DCIM/101SALTM/BSG_0012.JPG", jpeg.substr(0, jpeg.size() / 3));  // one line on stderr
    const std::string cull = "cull '" + s.folder.at("DCIM") + "'";
    struct Case {
      const char* streams;
      int code;
    };
    for (const Case& c : {Case{">/dev/full", 3}, Case{"2>/dev/full", 1}, Case{">/dev/full 2>/dev/full", 3},
                          Case{">&- 2>&- <&-", 1}}) {
      CAPTURE(std::string(c.streams));
      CHECK(run(s, cull, c.streams).code == c.code);
      CHECK(s.contents(true).size() == 30);
      CHECK(nlohmann::json::parse(lines_of(run(s, "history --json").out).back())["ended"] == true);
      CHECK(run(s, "undo", c.streams).code == (c.code == 3 ? 3 : 0));
      CHECK(s.contents(true).empty());
    }
    // A reader that goes away after one line.
    run(s, cull, "| head -n 1 >/dev/null");
    CHECK(s.contents(true).size() == 30);
  }

  TEST_CASE("history and undo: what was changed, taken back, and what was left alone") {
    SampleFolder s;
    CHECK(run(s, "history").out == "No runs yet\n");
    CHECK(run(s, "undo").out == "Nothing to undo: no run has changed a sidecar\n");
    REQUIRE(run(s, "cull -q '" + s.folder.at("DCIM") + "'").code == 0);
    const Ran look = run(s, "undo --dry-run");
    CHECK(look.code == 0);
    CHECK(look.out.starts_with("Would undo run 1: 0 sidecars restored, 30 removed"));
    CHECK(s.contents(true).size() == 30);
    s.folder.write("DCIM/101SALTM/BSG_0012.JPG.xmp", "mine");
    const Ran undone = run(s, "undo 1");
    CHECK(undone.code == 1);
    REQUIRE(lines_of(undone.err).size() == 1);
    CHECK(undone.err.find("BSG_0012.JPG.xmp: was changed or removed since, left alone") != std::string::npos);
    CHECK(s.contents(true).size() == 1);
    CHECK(lines_of(run(s, "history").out).at(1).find(" in part ") != std::string::npos);
    const auto line = nlohmann::json::parse(run(s, "history --json").out);
    CHECK(line["run"] == 1);
    CHECK(line["ended"] == true);
    CHECK(line["frames"] == 30);
    CHECK(line["sidecars_changed"] == 30);
    CHECK(line["sidecars_undone"] == 29);
    CHECK(run(s, "undo 99").code == 3);
    CHECK(run(s, "undo nonsense").code == 2);
  }

  TEST_CASE("help names every command with an example, and the exit codes") {
    SampleFolder s(false);
    const std::string top = run(s, "--help").out;
    for (const char* word :
         {"cull", "explain", "undo", "set-aside", "history", "debrief", "sheet", "Exit codes", "--config"})
      CHECK(top.find(word) != std::string::npos);
    for (const char* command : {"cull", "explain", "undo", "set-aside", "history", "debrief", "sheet"})
      CHECK(run(s, std::string(command) + " --help").out.find("Example:") != std::string::npos);
  }

  TEST_CASE("the configuration file sets what the command line leaves open") {
    SampleFolder s;
    std::filesystem::create_directories(s.folder.at(".config/burstsieve"));
    s.folder.write(".config/burstsieve/config.toml", "[cull]\ndry-run = true\njson = true\n");
    const Ran r = run(s, "cull '" + s.folder.at("DCIM") + "'");
    CHECK(r.code == 0);
    CHECK(nlohmann::json::parse(lines_of(r.out).back())["dry_run"] == true);
    CHECK(s.contents(true).empty());
    s.folder.write("other.toml", "[cull]\nsidecar-naming = \"plain\"\n");
    REQUIRE(
        run(s, "--config '" + s.folder.at("other.toml") + "' cull -q '" + s.folder.at("DCIM") + "'").code ==
        0);
    CHECK(std::filesystem::exists(s.folder.at("DCIM/101SALTM/BSG_0012.xmp")));
    s.folder.write("wrong.toml", "[cull]\nthreds = 3\n");
    CHECK(run(s, "--config '" + s.folder.at("wrong.toml") + "' cull '" + s.folder.at("DCIM") + "'").code ==
          2);
  }

  TEST_CASE("debrief and sheet look only: remembered measures, no sidecar, nothing beside photographs") {
    SampleFolder s;
    const std::string photographs = "'" + s.folder.at("DCIM") + "'";
    const Ran r = run(s, "sheet --json --paper letter --only keep,undecided --out '" + s.folder.at("out") +
                             "' " + photographs);
    CHECK(r.code == 0);
    CHECK(r.err.empty());
    const auto told = nlohmann::json::parse(r.out);
    const std::size_t frames = told["frames"];
    CHECK(frames > 20);
    CHECK(told["bursts"] == 5);
    CHECK(told["paper_pages"] > 1);
    std::size_t whole = 0, close = 0, sidecars = 0;
    for (const auto& e : std::filesystem::recursive_directory_iterator(s.folder.path)) {
      const std::string name = e.path().filename().string();
      whole += name.ends_with("-whole.jpg");
      close += name.ends_with("-close.jpg");
      sidecars += name.ends_with(".xmp");
    }
    CHECK(whole == frames);
    CHECK(close == frames);
    CHECK(sidecars == 0);
    CHECK(s.folder.read("out/sheet.pdf").starts_with("%PDF-"));
    CHECK(s.folder.read("out/index.html").find("debrief.html") != std::string::npos);
    CHECK(std::filesystem::exists(s.folder.at("out/debrief.html")));

    const Ran inside = run(s, "sheet --out '" + s.folder.at("DCIM/sheet") + "' " + photographs);
    CHECK(inside.code == 3);
    CHECK(inside.err.find("culled next time") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(s.folder.at("DCIM/sheet")));

    // By default it lies in the current folder, which may be that of the photographs.
    const std::string there = "cd " + photographs + " && HOME='" + s.folder.path +
                              "' '" BURSTSIEVE_PROGRAM "' sheet . >/dev/null 2>&1 </dev/null";
    CHECK(std::system(there.c_str()) != 0);
    CHECK_FALSE(std::filesystem::exists(s.folder.at("DCIM/DCIM-sheet")));

    const Ran debrief = run(s, "debrief --json " + photographs);
    CHECK(debrief.code == 0);
    const auto json = nlohmann::json::parse(debrief.out);
    CHECK(json["frames"] == 30);
    CHECK(json["settings"]["shutter_s"]["bins"].size() > 0);
    // The page named by a slip of the hand is a photograph.
    s.folder.write("slip.JPG", "photograph");
    const Ran slip = run(s, "debrief --page '" + s.folder.at("slip.JPG") + "' " + photographs);
    CHECK(slip.code == 3);
    CHECK(s.folder.read("slip.JPG") == "photograph");
    CHECK(run(s, "debrief --page '" + s.folder.at("out/debrief.html") + "' " + photographs).code == 0);
  }
}
