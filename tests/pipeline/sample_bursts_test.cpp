// The main job, end to end, against the truth of the rendered sample bursts.
#include <doctest/doctest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "pipeline/sample.h"

using namespace burstsieve;
using test::Recorder;
using test::SampleFolder;

namespace {

nlohmann::json truth() {
  return nlohmann::json::parse(std::ifstream(test::sample_source() + "/truth.json"));
}

std::string main_name(const nlohmann::json& frame) {
  // The raw is listed first.
  return leaf_of(frame["files"][0].get<std::string>());
}

bool has_reason(const FrameOutcome& o, std::initializer_list<const char*> codes) {
  return std::any_of(o.verdict.reasons.begin(), o.verdict.reasons.end(), [&](const Reason& r) {
    return std::any_of(codes.begin(), codes.end(), [&](const char* c) { return r.code == c; });
  });
}

// Whether the verdict names the planted fault, by the measure that is blind to none of its kind.
bool named(const std::string& fault, const FrameOutcome& o) {
  if (fault == "whites_clipped") return has_reason(o, {"whites_clipped"});
  if (fault == "cut") return has_reason(o, {"cut"});
  if (fault == "subject_motion" || fault == "camera_shake")
    return has_reason(o, {"motion", "soft", "softer", "missed_focus"});
  if (fault == "soft" || fault == "missed_focus") return has_reason(o, {"soft", "softer", "missed_focus"});
  return false;
}

const Recorder& culled() {
  static SampleFolder samples;
  static Recorder recorder;
  [[maybe_unused]] static const RunSummary summary = samples.cull(recorder);
  return recorder;
}

}  // namespace

TEST_SUITE("pipeline/sample_bursts") {
  TEST_CASE("every frame is there once, in the bursts it was taken in, pairs paired") {
    const auto& run = culled();
    const auto t = truth();
    CHECK(run.errors.empty());
    CHECK(run.progress_ok);
    CHECK(run.last_done == run.last_total);
    REQUIRE(run.bursts.size() == t["bursts"].size());
    std::set<std::string> seen;
    for (const auto& burst : t["bursts"]) {
      // The burst that holds its first frame must hold exactly its frames, in order.
      const auto first = main_name(burst["frames"][0]);
      const auto ours = std::find_if(run.bursts.begin(), run.bursts.end(), [&](const BurstOutcome& b) {
        return leaf_of(b.frames.front().frame.main().path) == first;
      });
      CAPTURE(first);
      REQUIRE(ours != run.bursts.end());
      REQUIRE(ours->frames.size() == burst["frames"].size());
      for (std::size_t i = 0; i < ours->frames.size(); ++i) {
        const Frame& f = ours->frames[i].frame;
        CHECK(leaf_of(f.main().path) == main_name(burst["frames"][i]));
        CHECK((f.raw && f.jpeg) == (burst["frames"][i]["files"].size() == 2));
        CHECK(f.capture.time_ms == burst["frames"][i]["time_ms"].get<std::int64_t>());
        CHECK(seen.insert(f.main().path).second);
      }
    }
  }

  TEST_CASE("no true best frame of a pose is rejected; most are kept") {
    int best = 0, kept = 0;
    const auto t = truth();
    for (const auto& burst : t["bursts"])
      for (const auto& frame : burst["frames"]) {
        if (!frame["best_of_pose"].get<bool>()) continue;
        const FrameOutcome* o = culled().frame(main_name(frame));
        REQUIRE(o);
        CAPTURE(main_name(frame));
        CHECK(o->verdict.verdict != Verdict::reject);
        ++best;
        kept += o->verdict.verdict == Verdict::keep;
      }
    CHECK(best >= 10);
    CHECK(kept >= best - 2);
  }

  TEST_CASE("planted faults are named, and those that are not are listed") {
    int planted = 0;
    std::vector<std::string> missed;
    const auto t = truth();
    for (const auto& burst : t["bursts"])
      for (const auto& frame : burst["frames"]) {
        if (!frame["ruined"].get<bool>()) continue;
        const FrameOutcome* o = culled().frame(main_name(frame));
        REQUIRE(o);
        for (const auto& fault : frame["faults"]) {
          ++planted;
          if (!named(fault, *o)) missed.push_back(main_name(frame) + " " + fault.get<std::string>());
        }
      }
    std::string list;
    for (const auto& m : missed) list += "\n  " + m;
    MESSAGE("planted " << planted << ", missed " << missed.size() << ":" << list);
    CHECK(planted >= 12);
    // A hidden head needs the head finder, which this release does not have.
    for (const auto& m : missed) CHECK(m.ends_with("head_hidden"));
  }

  TEST_CASE("no frame with a planted ruin but a hidden head is kept") {
    const auto t = truth();
    for (const auto& burst : t["bursts"])
      for (const auto& frame : burst["frames"]) {
        if (!frame["ruined"].get<bool>() || frame["faults"] == nlohmann::json::array({"head_hidden"}))
          continue;
        CAPTURE(main_name(frame));
        CHECK(culled().frame(main_name(frame))->verdict.verdict != Verdict::keep);
      }
  }

  // The truth of raw frames is counted on the noise-free mosaic, green sites for the headroom.
  TEST_CASE("highlights of raw frames agree with the planted exposure") {
    int compared = 0;
    const auto t = truth();
    for (const auto& burst : t["bursts"])
      for (const auto& frame : burst["frames"]) {
        const FrameOutcome* o = culled().frame(main_name(frame));
        if (!o->frame.raw) continue;
        const Measure* headroom = find(o->facts.measures, "headroom_ev");
        const Measure* green = find(o->facts.measures, "white_clipped_g");
        CAPTURE(main_name(frame));
        REQUIRE(headroom);
        REQUIRE(green);
        if (headroom->basis != "raw mosaic") continue;
        CHECK(headroom->value == doctest::Approx(frame["headroom_ev"].get<double>()).epsilon(.15));
        const bool over = frame["white_clipped"][1].get<double>() > .05;
        CHECK((green->value > .05) == over);
        ++compared;
      }
    CHECK(compared >= 5);
  }

  TEST_CASE("measured blur follows the planted one") {
    double worst = 0;
    const auto t = truth();
    for (const auto& burst : t["bursts"])
      for (const auto& frame : burst["frames"]) {
        const double planted = frame["blur_sigma_px"];
        const FrameOutcome* o = culled().frame(main_name(frame));
        const Measure* m = find(o->facts.measures, "blur_sigma_px");
        if (frame["motion_of"] == "subject" || frame["motion_of"] == "camera" || !m || m->confidence < .75)
          continue;
        CAPTURE(main_name(frame));
        if (planted < 1) {
          CHECK(m->value < 1.0);  // sharp is sharp
        } else {
          CHECK(m->value == doctest::Approx(planted).epsilon(.25));
          worst = std::max(worst, std::abs(m->value / planted - 1));
        }
      }
    MESSAGE("worst relative error of blur above 1 px: " << worst);
  }
}
