// Whole sets, through the program.
#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "scratch.h"
#include "truth.h"

using namespace burstsieve::generate;
using Json = nlohmann::json;

namespace {

Json run(const std::string& folder, const std::string& arguments) {
  scratch::output_of(std::string(BURSTSIEVE_GENERATE) + " " + folder + " " + arguments);
  const ByteBuffer bytes = scratch::bytes_of(folder + "/truth.json");
  REQUIRE(!bytes.empty());
  return Json::parse(bytes.begin(), bytes.end());
}

void check_truth(const Json& truth, const std::string& folder) {
  std::set<std::string> seen;
  for (const Json& burst : truth["bursts"]) {
    CAPTURE(burst["name"].get<std::string>());
    std::map<std::string, int> best, sound;
    std::map<std::string, bool> best_is_ruined;
    std::int64_t last = 0;
    for (const Json& f : burst["frames"]) {
      const auto pose = f["pose"].get<std::string>();
      best[pose] += f["best_of_pose"].get<bool>() ? 1 : 0;
      sound[pose] += f["ruined"].get<bool>() ? 0 : 1;
      if (f["best_of_pose"].get<bool>()) best_is_ruined[pose] = f["ruined"].get<bool>();
      CHECK(f["time_ms"].get<std::int64_t>() > last);
      last = f["time_ms"].get<std::int64_t>();
      CHECK(!f["files"].empty());
      for (const Json& file : f["files"]) {
        CHECK(seen.insert(file.get<std::string>()).second);
        CHECK(std::filesystem::file_size(folder + "/" + file.get<std::string>()) > 2000);
      }
      for (const char* box : {"subject", "head"}) {
        const Json& r = f[box];
        for (const Json& v : r) {
          CHECK(v.get<double>() >= 0);
          CHECK(v.get<double>() <= 1);
        }
        CHECK(r[0].get<double>() + r[2].get<double>() <= 1.0001);
        CHECK(r[1].get<double>() + r[3].get<double>() <= 1.0001);
      }
      CHECK(f["blur_sigma_px"].get<double>() > .5);
      double clipped = 0;
      for (const Json& v : f["white_clipped"]) clipped = std::max(clipped, v.get<double>());
      const auto of = f["motion_of"].get<std::string>();
      const bool over = f["blur_sigma_px"].get<double>() > 2.2 ||
                        ((of == "subject" || of == "camera") && f["motion_px"].get<double>() > 6) ||
                        clipped >= .05 || f["cut_by_edge"].get<double>() > .1 ||
                        !f["head_visible"].get<bool>();
      CHECK(f["ruined"].get<bool>() == over);
    }
    for (const auto& [pose, count] : best) {
      CAPTURE(pose);
      CHECK(count == 1);
      CHECK(best_is_ruined[pose] == (sound[pose] == 0));
    }
  }
}

}  // namespace

TEST_CASE("the same seed gives the same bytes for any number of threads, another seed others") {
  const scratch::Folder a, b, c;
  const std::string options = "--set season --bursts 3 --frames 3 --width 300 --height 200 --format pair";
  const Json truth = run(a.path, options + " --seed 5 --threads 1");
  run(b.path, options + " --seed 5 --threads 2");
  run(c.path, options + " --seed 6 --threads 2");
  CHECK(scratch::bytes_of(a / "truth.json") == scratch::bytes_of(b / "truth.json"));
  CHECK(scratch::bytes_of(a / "truth.json") != scratch::bytes_of(c / "truth.json"));
  int files = 0;
  for (const Json& burst : truth["bursts"]) {
    for (const Json& f : burst["frames"]) {
      for (const Json& name : f["files"]) {
        CHECK(scratch::bytes_of(a / name.get<std::string>()) ==
              scratch::bytes_of(b / name.get<std::string>()));
        ++files;
      }
    }
  }
  CHECK(files == 18);
}

TEST_CASE("the truth of a season hangs together") {
  const scratch::Folder folder;
  const Json truth = run(folder.path, "--set season --bursts 12 --width 240 --height 160 --seed 3");
  CHECK(truth["bursts"].size() == 12);
  check_truth(truth, folder.path);
}

TEST_CASE("the truth of the fault ladders hangs together") {
  const scratch::Folder folder;
  const Json truth = run(folder.path, "--set faults --width 360 --height 240");
  check_truth(truth, folder.path);
  std::set<std::string> named;
  for (const Json& burst : truth["bursts"])
    for (const Json& f : burst["frames"])
      for (const Json& fault : f["faults"]) named.insert(fault.get<std::string>());
  CHECK(named == std::set<std::string>{"soft", "missed_focus", "subject_motion", "camera_shake",
                                       "whites_clipped", "cut", "head_hidden"});
}

TEST_CASE("several birds stand apart in the frame, at depths of their own; some are cut by its edge") {
  const scratch::Folder folder;
  const Json truth = run(folder.path, "--set several --bursts 6 --width 360 --height 240");
  check_truth(truth, folder.path);
  int birds = 0, cut = 0, differing = 0;
  for (const Json& burst : truth["bursts"])
    for (const Json& f : burst["frames"]) {
      if (!f.contains("others")) continue;
      std::vector<Json> boxes{f["subject"]};
      for (const Json& o : f["others"]) {
        ++birds;
        boxes.push_back(o["subject"]);
        const double share = o["cut_by_edge"].get<double>();
        const auto& b = o["subject"];
        const bool at_edge = b[0] <= 0 || b[1] <= 0 || b[0].get<double>() + b[2].get<double>() >= 1 - 1e-5 ||
                             b[1].get<double>() + b[3].get<double>() >= 1 - 1e-5;
        CHECK((share > 0) == at_edge);
        cut += share > 0;
        differing += std::abs(o["blur_sigma_px"].get<double>() / f["blur_sigma_px"].get<double>() - 1) > .2;
      }
      for (std::size_t i = 0; i < boxes.size(); ++i)
        for (std::size_t k = 0; k < i; ++k) {
          const auto apart = [&](int at, int side) {
            const double a = boxes[i][at], b = boxes[k][at];
            return a >= b + boxes[k][side].get<double>() || b >= a + boxes[i][side].get<double>();
          };
          CHECK((apart(0, 2) || apart(1, 3)));
        }
    }
  CHECK(birds >= 20);
  CHECK(cut >= 4);
  CHECK(differing >= birds / 2);
}

TEST_CASE("the committed sample is small and consistent, with a roll-over and two cameras at once") {
  const std::string committed = std::string(BURSTSIEVE_SOURCE_DIR) + "/sample-bursts";
  const ByteBuffer bytes = scratch::bytes_of(committed + "/truth.json");
  REQUIRE(!bytes.empty());
  const Json truth = Json::parse(bytes.begin(), bytes.end());
  check_truth(truth, committed);
  std::uintmax_t total = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(committed))
    if (entry.is_regular_file()) total += entry.file_size();
  CHECK(total < 12000000);
  bool rolls_over = false;
  std::string last;
  std::map<std::string, std::pair<std::int64_t, std::int64_t>> spans;
  for (const Json& burst : truth["bursts"]) {
    for (const Json& f : burst["frames"]) {
      const auto name = std::filesystem::path(f["files"][0].get<std::string>()).stem().string();
      rolls_over = rolls_over || (last == "BSG_9999" && name == "BSG_0001");
      last = name;
    }
    auto& span = spans[burst["name"].get<std::string>()];
    span = {burst["frames"].front()["time_ms"].get<std::int64_t>(),
            burst["frames"].back()["time_ms"].get<std::int64_t>()};
  }
  CHECK(rolls_over);
  CHECK(spans["marsh-avocet"].first > spans["harbour-gull"].first);
  CHECK(spans["marsh-avocet"].first < spans["harbour-gull"].second);
}
