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

  TEST_CASE("several subjects: each one's numbers, which are sharp together, in words and JSON") {
    FrameOutcome f = burst().frames.front();
    const auto bird = [](double x, double blur, double sure) {
      Subject s{{x, .2, .2, .3}, std::nullopt, .7, "focus energy"};
      if (blur > 0)
        s.measures = {{"blur_sigma_px", blur, "px", sure, "jpeg"}, {"subject_size", .2, "", .7, "jpeg"}};
      return s;
    };
    f.facts.subjects = {bird(0, 1.3, .9)};
    CHECK(report::explanation(f).find("several") == std::string::npos);
    CHECK_FALSE(nlohmann::json::parse(report::frame_json(f)).contains("several"));
    f.facts.subjects.push_back(bird(.5, 3.12, .8));
    const std::string text = report::explanation(f);
    CHECK(text.find("several  2 subjects: the second 3.1 px soft, 2.4 times the first\n") !=
          std::string::npos);
    CHECK(text.find("blur 3.12 px (confidence 0.80), size 0.20, outside the depth of field\n") !=
          std::string::npos);
    f.facts.subjects.push_back(bird(.7, 0, 0));    // found, not measured
    f.facts.subjects.push_back(bird(.8, 9, .05));  // measured on hardly an edge
    f.facts.subjects.push_back(bird(.3, 1.4, .8));
    const auto json = nlohmann::json::parse(report::frame_json(f));
    CHECK(json["several"] ==
          "4 subjects: the second 3.1 px soft, 2.4 times the first, the fourth 9.0 px soft, 6.9 times the "
          "first (unsure), the fifth as sharp as the first (1.4 px)");
    CHECK(json["subjects"][0]["at_100_percent"] == "inside the depth of field");
    CHECK(json["subjects"][1]["at_100_percent"] == "outside the depth of field");
    CHECK(json["subjects"][4]["at_100_percent"] == "too close to tell");
    CHECK_FALSE(json["subjects"][2].contains("at_100_percent"));
    CHECK(json["subjects"][0]["depth"] == 1);
    CHECK(json["subjects"][1]["depth"] == 2);
    CHECK(json["subjects"][4]["depth"] == 1);
    CHECK_FALSE(json["subjects"][2].contains("depth"));
    CHECK_FALSE(json["subjects"][2].contains("measures"));
    CHECK(json["subjects"][3]["depth"] == 3);
    CHECK(json["subjects"][1]["measures"]["blur_sigma_px"]["value"] == 3.12);
    f.facts.subjects = {bird(0, 2.6, .9), bird(.5, .5, .9), bird(.7, .7, .9)};
    const auto soft_first = nlohmann::json::parse(report::frame_json(f));
    CHECK(soft_first["several"] ==
          "3 subjects: the second sharper, 0.5 px against 2.6 px of the first, the third "
          "sharper, 0.7 px against 2.6 px of the first");
    CHECK(soft_first["subjects"][0]["depth"] == 2);
    CHECK(soft_first["subjects"][1]["depth"] == 1);
    CHECK(soft_first["subjects"][2]["depth"] == 1);  // both as sharp as can be
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
