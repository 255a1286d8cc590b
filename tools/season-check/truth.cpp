#include "truth.h"

#include <algorithm>
#include <array>
#include <exception>
#include <nlohmann/json.hpp>

#include "burstsieve/base/file_system.h"

namespace burstsieve::season_check {
namespace {

constexpr std::uint64_t kMostBytes = 256 << 20;  // a season of 20,000 frames takes 16 MB

double second_of(std::array<double, 3> shares) {
  std::sort(shares.begin(), shares.end());
  return shares[1];
}

TrueFrame frame_of(const std::string& burst, const nlohmann::json& f) {
  TrueFrame out;
  out.burst = burst;
  out.pose = f.at("pose");
  out.ruined = f.at("ruined");
  out.best_of_pose = f.at("best_of_pose");
  for (const auto& fault : f.at("faults")) out.faults.push_back(fault);
  out.blur_sigma_px = f.at("blur_sigma_px");
  out.motion_px = f.at("motion_px");
  out.motion_of = f.at("motion_of");
  out.whites_lost = second_of(f.at("white_clipped").get<std::array<double, 3>>());
  out.cut_by_edge = f.at("cut_by_edge");
  out.head_visible = f.at("head_visible");
  const auto box = f.at("subject").get<std::array<double, 4>>();
  out.subject = {box[0], box[1], box[2], box[3]};
  return out;
}

}  // namespace

Result<Truth> read_truth(const std::string& folder) {
  const std::string path = folder + "/truth.json";
  RealFileSystem files;
  const auto bytes = files.read_file(path, kMostBytes);
  if (!bytes) return bytes.error();
  Truth out;
  try {
    const auto json = nlohmann::json::parse(bytes->begin(), bytes->end());
    for (const auto& burst : json.at("bursts"))
      for (const auto& f : burst.at("frames"))
        for (const auto& file : f.at("files")) out[file.get<std::string>()] = frame_of(burst.at("name"), f);
  } catch (const std::exception& e) {
    return Error{Cause::corrupt, path, std::string("not a truth file of burstsieve-generate: ") + e.what()};
  }
  return out;
}

const TrueFrame* true_frame(const Truth& truth, const std::string& folder, const std::string& path) {
  const std::string prefix = folder.ends_with('/') ? folder : folder + "/";
  if (!path.starts_with(prefix)) return nullptr;
  const auto found = truth.find(path.substr(prefix.size()));
  return found == truth.end() ? nullptr : &found->second;
}

}  // namespace burstsieve::season_check
