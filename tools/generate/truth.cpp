#include "truth.h"

#include <cmath>
#include <nlohmann/json.hpp>

namespace burstsieve::generate {
namespace {

using Json = nlohmann::ordered_json;

double rounded(double v, double step) {
  const double r = std::round(v / step) * step;
  return std::round(r * 1e9) / 1e9;
}

Json box(const Region& r) {
  return Json::array({rounded(r.x, 1e-5), rounded(r.y, 1e-5), rounded(r.w, 1e-5), rounded(r.h, 1e-5)});
}

Json fractions(const std::array<double, 3>& v) {
  return Json::array({rounded(v[0], 1e-6), rounded(v[1], 1e-6), rounded(v[2], 1e-6)});
}

Json frame_json(const FrameTruth& t, bool raw) {
  const Whites& kept = raw ? t.raw : t.jpeg;
  Json j;
  j["files"] = t.files;
  j["time_ms"] = t.time_ms;
  j["pose"] = t.pose;
  j["subject"] = box(t.subject);
  j["head"] = box(t.head);
  j["head_visible"] = t.head_visible;
  j["blur_sigma_px"] = rounded(t.blur_sigma_px, 1e-4);
  j["motion_px"] = rounded(t.motion_px, 1e-3);
  j["motion_deg"] = rounded(t.motion_deg, 1e-3);
  j["motion_of"] = t.motion_of;
  j["focus_on"] = t.focus_on;
  j["white_clipped"] = fractions(kept.clipped);
  j["headroom_ev"] = rounded(kept.headroom_ev, 1e-4);
  j["white_clipped_raw"] = fractions(t.raw.clipped);
  j["white_clipped_jpeg"] = fractions(t.jpeg.clipped);
  j["headroom_ev_raw"] = rounded(t.raw.headroom_ev, 1e-4);
  j["headroom_ev_jpeg"] = rounded(t.jpeg.headroom_ev, 1e-4);
  j["cut_by_edge"] = rounded(t.cut_by_edge, 1e-5);
  j["exposure_ev"] = rounded(t.exposure_ev, 1e-4);
  j["iso"] = t.iso;
  j["faults"] = t.faults;
  j["ruined"] = t.ruined;
  j["best_of_pose"] = t.best_of_pose;
  for (const OtherTruth& o : t.others)
    j["others"].push_back({{"subject", box(o.subject)},
                           {"blur_sigma_px", rounded(o.blur_sigma_px, 1e-4)},
                           {"cut_by_edge", rounded(o.cut_by_edge, 1e-5)}});
  return j;
}

}  // namespace

std::string truth_json(const std::string& set, std::uint64_t seed, const std::vector<BurstTruth>& bursts) {
  Json root;
  root["set"] = set;
  root["seed"] = seed;
  root["ruined_when"] = {{"blur_sigma_px_over", ruin_limits.blur_sigma_px},
                         {"motion_px_over", ruin_limits.motion_px},
                         {"white_clipped_from", ruin_limits.white_clipped},
                         {"cut_by_edge_over", ruin_limits.cut_by_edge},
                         {"head_visible", false}};
  root["bursts"] = Json::array();
  for (const BurstTruth& b : bursts) {
    Json burst;
    burst["name"] = b.name;
    burst["camera"] = b.camera;
    burst["frames"] = Json::array();
    for (const FrameTruth& t : b.frames) burst["frames"].push_back(frame_json(t, b.raw));
    root["bursts"].push_back(std::move(burst));
  }
  return root.dump(1) + "\n";
}

}  // namespace burstsieve::generate
