#include "burstsieve/report/text.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "burstsieve/report/json.h"

using namespace burstsieve;

namespace {

BurstOutcome burst() {
  FrameOutcome f;
  FileRef file;
  file.path = "card/BSG_0042\n\x1b[31m.JPG";
  file.format = "JPEG";
  f.frame.jpeg = file;
  f.frame.capture.time_ms = 1'776'000'000'125;
  f.frame.capture.subsecond_known = true;
  f.frame.capture.exposure_s = .0005;
  f.facts.decoded = true;
  f.facts.measures.push_back({"blur_sigma_px", 1.234, "px", .9, "jpeg"});
  f.verdict.verdict = Verdict::keep;
  f.verdict.rating = 3;
  f.verdict.pose = 1;
  f.verdict.place = 1;
  f.verdict.reasons.push_back(
      {"best_of_pose", "only frame of its pose: blur 1.23 px", 1.234, "px", 1.234, .9});
  return {7, "Saltmarsh Optics SO-1", {f}, false};
}

}  // namespace

TEST_SUITE("report/text") {
  TEST_CASE("a table names frame, verdict, numbers and reason, and no file name can drive the terminal") {
    const std::string table = report::burst_table(burst());
    CHECK(table.find("Burst 7") != std::string::npos);
    CHECK(table.find("1.23") != std::string::npos);
    CHECK(table.find("keep") != std::string::npos);
    CHECK(table.find("only frame of its pose") != std::string::npos);
    CHECK(table.find('\x1b') == std::string::npos);
    CHECK(table.find("\\x1b[31m") != std::string::npos);
    CHECK(report::explanation(burst().frames.front()).find("1/2000 s") != std::string::npos);
  }

  // 1776000000 s after 1970 is 2026-04-12 13:20:00 UTC (date -u -d @1776000000).
  TEST_CASE("times say whether they are UTC or the camera's own") {
    Capture c;
    CHECK(report::time_text(c) == "time unknown");
    c.time_ms = 1'776'000'000'125;
    CHECK(report::time_text(c) == "2026-04-12 13:20:00 camera time");
    c.subsecond_known = true;
    c.utc_offset_minutes = 60;
    CHECK(report::time_text(c) == "2026-04-12 13:20:00.125 UTC");
    c.time_ms = -1;
    CHECK(report::time_text(c) == "1969-12-31 23:59:59.999 UTC");
  }

  TEST_CASE("JSON is valid whatever the names are, and rounded") {
    const auto json = nlohmann::json::parse(report::burst_json(burst()));
    CHECK(json["frames"][0]["measures"]["blur_sigma_px"]["value"] == 1.234);
    CHECK(json["frames"][0]["rating"] == 3);
    BurstOutcome odd = burst();
    odd.frames[0].frame.jpeg->path = "\xff\xfe.jpg";
    odd.frames[0].facts.measures[0].value = 1.0 / 3;
    const auto again = nlohmann::json::parse(report::burst_json(odd));
    CHECK(again["frames"][0]["jpeg"]["path"] == "\\xff\\xfe.jpg");
    CHECK(again["frames"][0]["measures"]["blur_sigma_px"]["value"] == .333333);
    CHECK(nlohmann::json::parse(report::error_json({Cause::io, "a", "b"}))["cause"] == "io");
  }

  TEST_CASE("the summary says when nothing had to be measured and when nothing was written") {
    RunSummary s;
    s.frames = s.remembered = 12;
    s.dry_run = true;
    const std::string text = report::summary_text(s);
    CHECK(text.find("Measured nothing: all 12 frames are known") != std::string::npos);
    CHECK(text.find("nothing was written") != std::string::npos);
  }
}
