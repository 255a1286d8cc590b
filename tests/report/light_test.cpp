// The light of an outing from numbers made up here: every expected value is worked out beside its check.
#include "burstsieve/report/light.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "burstsieve/report/json.h"
#include "burstsieve/report/summary.h"
#include "burstsieve/report/text.h"

using namespace burstsieve;
using report::BurstLight;
using report::FrameLight;

namespace {

constexpr std::int64_t kMinute = 60'000, kHour = 60 * kMinute;

FrameOutcome frame(double mired, double confidence = .8) {
  FrameOutcome f;
  f.frame.jpeg = FileRef{};
  f.frame.jpeg->path = "/marsh/BSG_0001.JPG";
  f.facts.measures = {{"white_mired", mired, "mired", confidence, "jpeg"},
                      {"white_duv", .0032, "", confidence, "jpeg"}};
  return f;
}

BurstOutcome burst(int number, std::int64_t time_ms, const std::vector<double>& mireds,
                   double confidence = .8) {
  BurstOutcome out{number, "Saltmarsh Optics SO-1", {}, false};
  for (const double m : mireds) out.frames.push_back(frame(m, confidence));
  for (FrameOutcome& f : out.frames) f.frame.capture.time_ms = time_ms;
  return out;
}

std::vector<report::LightDrift> drift(const std::vector<BurstOutcome>& bursts) {
  std::vector<BurstLight> all;
  for (const BurstOutcome& b : bursts)
    if (auto light = report::burst_light(b)) all.push_back(*light);
  return report::light_drift(all);
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_SUITE("report/light") {
  TEST_CASE("a burst's estimate is the median of its frames by confidence; one wild frame does not move it") {
    CHECK(report::burst_light(std::vector<FrameLight>{{150, 0, .8}, {152, 0, .8}, {230, 0, .8}})->mired ==
          152);
    CHECK(report::burst_light(std::vector<FrameLight>{{150, 0, .8}, {160, 0, .2}, {170, 0, .2}})->mired ==
          150);
    CHECK(report::burst_light(std::vector<FrameLight>{{150, 0, .5}, {154, 0, .5}})->mired == 152);
    CHECK_FALSE(report::burst_light(std::vector<FrameLight>{}));
    CHECK_FALSE(report::burst_light(BurstOutcome{1, "x", {FrameOutcome{}}, false}));
  }

  TEST_CASE("its uncertainty falls with frames that agree, not below what they have in common") {
    const auto of = [](const std::vector<double>& mireds) {
      return report::burst_light(burst(1, 0, mireds))->uncertainty;
    };
    // One frame: 2 x 1.2533 x 2 = 5.01, with the 5 in common 7.08.
    CHECK(of({150}) == doctest::Approx(7.080).epsilon(.001));
    CHECK(of(std::vector<double>(4, 150)) == doctest::Approx(std::hypot(2.5066, 5)).epsilon(.001));
    CHECK(of(std::vector<double>(400, 150)) < 5.02);
    CHECK(of(std::vector<double>(400, 150)) >= 5);
    CHECK(of({130, 140, 150, 160, 170}) > of({148, 149, 150, 151, 152}));
  }

  TEST_CASE("scatter within the uncertainty is called constant") {
    const auto d = drift({burst(1, 0, {152, 153, 152}), burst(2, kHour, {156, 155, 157}),
                          burst(3, 2 * kHour, {154, 154, 153})});
    REQUIRE(d.size() == 1);
    CHECK(d[0].constant);
    CHECK(d[0].mired == 154);
    CHECK(d[0].shift == std::vector<double>{-2, 2, 0});
    CHECK(has(report::drift_text(d[0]), "constant within 6 mired over 3 bursts: 154 mired"));
    CHECK(has(report::drift_text(d[0]), "near neutral"));
  }

  TEST_CASE("a planted drift towards evening is named with its times, and its largest step") {
    const std::int64_t noon = 1'776'000'000'000;  // 13:20 (tests/report/text_test.cpp)
    const auto d =
        drift({burst(1, noon, {150, 151, 150}), burst(2, noon + kHour, {153, 152, 153}),
               burst(3, noon + 2 * kHour, {171, 170, 172}), burst(4, noon + 3 * kHour, {178, 177, 178})});
    REQUIRE(d.size() == 1);
    CHECK_FALSE(d[0].constant);
    REQUIRE(d[0].step);
    CHECK(*d[0].step == 2);
    CHECK(d[0].step_mired == 18);
    CHECK(d[0].coldest == 0);
    CHECK(d[0].warmest == 3);
    const std::string text = report::drift_text(d[0]);
    CHECK(has(text, "from 150 mired (6670 K"));
    CHECK(has(text, "at 13:20 to 178 (5620 K"));
    CHECK(has(text, "largest step +18 (warmer) at 15:20"));
    CHECK(has(text, "Saltmarsh Optics SO-1"));
  }

  TEST_CASE("cameras are told apart, doubtful bursts left out, and one burst is no drift") {
    BurstOutcome other = burst(3, kMinute, {190, 190, 190});
    other.camera = "Another";
    CHECK(drift({burst(1, 0, {150, 150, 150}), other}).empty());
    CHECK(drift({burst(1, 0, {150, 150}), burst(2, 1, {190, 190}, .3)}).empty());
    CHECK(drift({}).empty());
    BurstOutcome again = other;
    again.number = 4;
    const auto d = drift({burst(1, 0, {150, 150}), other, burst(2, kMinute, {150, 150}), again});
    REQUIRE(d.size() == 2);
    CHECK(d[0].camera == "Another");
    CHECK((d[0].constant && d[1].constant));
  }

  TEST_CASE("the order in which bursts come in does not matter; those without a time come last") {
    BurstOutcome timeless = burst(9, 0, {150, 150});
    for (FrameOutcome& f : timeless.frames) f.frame.capture.time_ms.reset();
    const auto a = drift({timeless, burst(2, kHour, {170, 171}), burst(1, 0, {150, 151})});
    const auto b = drift({burst(1, 0, {150, 151}), timeless, burst(2, kHour, {170, 171})});
    REQUIRE((a.size() == 1 && b.size() == 1));
    CHECK(report::drift_text(a[0]) == report::drift_text(b[0]));
    CHECK(a[0].bursts.back().number == 9);
  }

  TEST_CASE("times are those of the camera's own clock") {
    std::vector<BurstOutcome> bursts{burst(1, 0, {150, 150}), burst(2, kHour, {190, 190})};
    for (BurstOutcome& b : bursts)
      for (FrameOutcome& f : b.frames) f.frame.capture.utc_offset_minutes = -90;
    CHECK(has(report::drift_text(drift(bursts)[0]), "at 22:30 to 190"));
  }

  TEST_CASE("text, JSON and the morning summary show it; nothing is shown where there is nothing to say") {
    const auto d = drift({burst(1, 0, {150, 150}), burst(2, kHour, {190, 190})});
    RunSummary s;
    s.frames = 4;
    CHECK(has(report::summary_text(s, d), "\nLight    white plumage drifts over 2 bursts"));
    CHECK_FALSE(has(report::summary_text(s), "Light"));
    const auto json = nlohmann::json::parse(report::summary_json(s, d));
    CHECK(json["light"][0]["constant"] == false);
    CHECK(json["light"][0]["bursts"][1]["shift_mired"] == 20);  // the median of two is their middle
    CHECK_FALSE(nlohmann::json::parse(report::summary_json(s)).contains("light"));
    const auto one = nlohmann::json::parse(report::burst_json(burst(1, 0, {150, 150})));
    CHECK(one["light"]["mired"] == 150);
    CHECK(one["light"]["kelvin"] == 6667);
    CHECK(has(report::explanation(frame(190)), "light    white plumage at 190 mired (5260 K), 36 warmer"));
    report::MorningSummary m;
    m.light = d;
    m.light[0].camera = "<b>";
    CHECK(has(report::morning_text(m), "Light: white plumage drifts"));
    CHECK(has(report::summary_page(m), "&lt;b&gt;"));
    CHECK(nlohmann::json::parse(report::morning_json(m))["light"].size() == 1);
    CHECK_FALSE(has(report::summary_page({}), "plumage"));
  }
}

TEST_SUITE("report/depth_of_field") {
  TEST_CASE("explain and JSON give the depth of field, or what is missing for it") {
    FrameOutcome f = frame(154);
    Capture& c = f.frame.capture;
    CHECK(has(report::explanation(f),
              "depth    of field unknown: the file does not state the focus distance, focal length"));
    c.focal_mm = 600;
    c.f_number = 4;
    c.pixel_pitch_um = 4.3;
    c.width = 8370;
    c.height = 5580;
    c.distance = SubjectDistance{20, 19.2, 20.9, "lens data"};
    const std::string text = report::explanation(f);
    CHECK(has(text, "focused  at 20 m, somewhere from 19.2 m to 20.9 m  (lens data)"));
    // .259 m at 30 um (tests/model/depth_of_field_test.cpp), 28.8 um here; .074 m with two pixels.
    CHECK(has(text, "depth    of field 0.25 m around 20 m (600 mm f/4, circle 29 um); at 100 % 0.07 m"));
    const auto json = nlohmann::json::parse(report::frame_json(f));
    CHECK(json["capture"]["distance"]["m"] == 20);
    CHECK(json["depth_of_field"]["at_100_percent"]["circle_um"] == 8.6);
    CHECK(json["depth_of_field"]["whole_picture"]["far_m"].get<double>() > 20.1);
    c.focal_mm = 24;
    CHECK(has(report::explanation(f), "to infinity around 20 m"));
    CHECK_FALSE(
        nlohmann::json::parse(report::frame_json(f))["depth_of_field"]["whole_picture"].contains("far_m"));
  }
}
