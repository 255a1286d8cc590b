// burstsieve preferences, and cull --profile, as a user meets them.
#include <doctest/doctest.h>
#include <sys/wait.h>

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "pipeline/sample.h"

using namespace burstsieve;

namespace {

struct Said {
  int code = -1;
  std::string out, err;
};

Said preferences(const test::SampleFolder& s, const std::string& arguments) {
  const std::string out = s.folder.at("stdout"), err = s.folder.at("stderr");
  const std::string command = "env -u XDG_DATA_HOME -u XDG_CONFIG_HOME HOME='" + s.folder.path +
                              "' '" BURSTSIEVE_PROGRAM "' " + arguments + " >'" + out + "' 2>'" + err +
                              "' </dev/null";
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, s.folder.read("stdout"), s.folder.read("stderr")};
}

}  // namespace

TEST_SUITE("pipeline/preferences_command") {
  TEST_CASE("show, export, import, cull by it, reset") {
    test::SampleFolder s;
    CHECK(preferences(s, "preferences").out ==
          "Profile default: nothing was learnt yet; the defaults are in use\n");
    const std::string file = s.folder.at("taste.json");
    CHECK(preferences(s, "preferences export '" + file + "'").code == 0);
    CHECK(preferences(s, "preferences export '" + file + "'").code == 3);  // never overwritten
    CHECK(nlohmann::json::parse(s.folder.read("taste.json"))["format"] == "burstsieve preferences");
    CHECK(preferences(s, "preferences import '" + file + "' --profile travel").code == 0);
    CHECK(preferences(s, "preferences show --profile travel").out ==
          "Profile travel: imported weights are in use; nothing was learnt yet\n");
    const auto json = nlohmann::json::parse(preferences(s, "preferences --json --profile travel").out);
    CHECK(json["imported"] == true);
    CHECK(json["features"].size() == rank::kFeatures);
    const std::string card = " '" + s.folder.at("DCIM") + "'";
    const Said by_default = preferences(s, "cull -q --dry-run" + card);
    CHECK(by_default.out.find("Taste ") == std::string::npos);
    const Said by_taste = preferences(s, "cull -q --dry-run --profile travel" + card);
    CHECK(by_taste.code == 0);
    CHECK(by_taste.out.find("chosen by imported preferences (profile travel; burstsieve preferences)") !=
          std::string::npos);
    CHECK(preferences(s, "preferences reset --profile travel").code == 0);
    CHECK(preferences(s, "cull -q --dry-run --profile travel" + card).out.find("Taste ") ==
          std::string::npos);
  }
  TEST_CASE("what is wrong is said, with the exit code for it") {
    test::SampleFolder s(false);
    CHECK(preferences(s, "preferences export").code == 2);
    CHECK(preferences(s, "preferences show x.json").code == 2);
    CHECK(preferences(s, "preferences forget").code == 2);
    CHECK(preferences(s, "preferences --profile 'a b'").code == 2);
    CHECK(preferences(s, "cull --profile 'a b' /tmp").code == 2);
    CHECK(preferences(s, "preferences import '" + s.folder.at("none.json") + "'").code == 3);
    s.folder.write("bad.json", "{}");
    const Said bad = preferences(s, "preferences import '" + s.folder.at("bad.json") + "'");
    CHECK(bad.code == 3);
    CHECK(bad.err.find("no exported preferences") != std::string::npos);
  }
}
