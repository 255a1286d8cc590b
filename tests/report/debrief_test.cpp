#include "burstsieve/report/debrief.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"

using namespace burstsieve;
using report::Cost;
using report::Setting;

namespace {

constexpr std::int64_t kTen = 1'775'988'000'000;  // 2026-04-12 10:00 UTC (date -u -d @1775988000)

void add_measure(FrameFacts& facts, const char* id, double value, double confidence,
                 const char* basis = "jpeg") {
  facts.measures.push_back({id, value, "", confidence, basis});
}

// Sharp, still, whole, whites held by half a stop.
FrameOutcome sound() {
  FrameOutcome f;
  FileRef file;
  file.path = "card/BSG_0001.JPG";
  f.frame.jpeg = file;
  f.frame.capture.exposure_s = 1.0 / 2500;
  f.frame.capture.focal_mm = 600;
  f.frame.capture.f_number = 5.6;
  f.frame.capture.iso = 800;
  f.frame.capture.time_ms = kTen;
  f.frame.capture.utc_offset_minutes = 0;
  f.facts.decoded = true;
  add_measure(f.facts, "blur_sigma_px", .7, .9);
  add_measure(f.facts, "motion_px", 0, .9);
  add_measure(f.facts, "background_motion_px", 0, .9);
  add_measure(f.facts, "cut_by_edge", 0, .9);
  for (const char* id :
       {"white_clipped_r", "white_clipped_g", "white_clipped_b", "white_partly", "white_gone"})
    add_measure(f.facts, id, 0, .9, "raw mosaic");
  for (const char* id : {"headroom_ev_r", "headroom_ev_g", "headroom_ev_b"})
    add_measure(f.facts, id, .5, .9, "raw mosaic");
  return f;
}

void set_measure(FrameOutcome& f, const char* id, double value) {
  for (Measure& m : f.facts.measures)
    if (m.id == id) m.value = value;
}

void lose_to(FrameOutcome& f, const char* code, double confidence = .9) {
  f.verdict.reasons.push_back({code, "", 5, "", 2, confidence});
}

void move_subject(FrameOutcome& f) {
  set_measure(f, "motion_px", 12);
  lose_to(f, "motion");
}

// `bursts` bursts of ten frames; `shape` is told the burst and the frame's place in it.
std::vector<BurstOutcome> outing(int bursts, const std::function<void(FrameOutcome&, int, int)>& shape) {
  std::vector<BurstOutcome> out;
  for (int b = 0; b < bursts; ++b) {
    BurstOutcome one{b + 1, "Saltmarsh Optics SO-1", {}, false};
    for (int i = 0; i < 10; ++i) {
      one.frames.push_back(sound());
      shape(one.frames.back(), b, i);
    }
    out.push_back(std::move(one));
  }
  return out;
}

const report::Share& share(const report::Shares& all, Cost cost) {
  return all[static_cast<std::size_t>(cost)];
}

const report::SettingBins& bins(const report::Debrief& d, Setting setting) {
  return d.settings[static_cast<std::size_t>(setting)];
}

}  // namespace

TEST_SUITE("report/debrief") {
  TEST_CASE("a frame is lost to what its verdict names with confidence, and to nothing else") {
    FrameOutcome f = sound();
    CHECK_FALSE(share(report::debrief({{1, "", {f}, false}}).all, Cost::anything).lost);
    lose_to(f, "missed_focus", .9);
    lose_to(f, "cut", .4);   // doubtful
    lose_to(f, "close", 1);  // no fault
    const auto one = report::frame_cost(f, 1);
    CHECK(one.lost[static_cast<std::size_t>(Cost::missed_focus)]);
    CHECK(one.lost[static_cast<std::size_t>(Cost::anything)]);
    CHECK_FALSE(one.lost[static_cast<std::size_t>(Cost::cut)]);
    CHECK_FALSE(one.asked[static_cast<std::size_t>(Cost::head_hidden)]);

    const auto kind = [](double subject, double background, bool background_known) {
      FrameOutcome moved = sound();
      set_measure(moved, "motion_px", subject);
      set_measure(moved, "background_motion_px", background);
      if (!background_known)
        std::erase_if(moved.facts.measures, [](const Measure& m) { return m.id == "background_motion_px"; });
      lose_to(moved, "motion");
      return report::frame_cost(moved, 1).lost;
    };
    CHECK(kind(12, 0, true)[static_cast<std::size_t>(Cost::subject_motion)]);
    CHECK(kind(12, 12, true)[static_cast<std::size_t>(Cost::camera_shake)]);
    CHECK(kind(12, 0, false)[static_cast<std::size_t>(Cost::other_motion)]);
    CHECK(kind(12, 40, true)[static_cast<std::size_t>(Cost::other_motion)]);
    CHECK(kind(12, 40, true)[static_cast<std::size_t>(Cost::any_motion)]);

    FrameOutcome whites = sound();
    set_measure(whites, "white_partly", .2);
    whites.verdict.reasons = {{"whites_clipped", "", .2, "", .05, .9}};
    CHECK(report::frame_cost(whites, 1).lost[static_cast<std::size_t>(Cost::whites)]);
    whites.verdict.reasons[0].confidence = .3;  // as the policy has it of one channel: recoverable
    CHECK_FALSE(report::frame_cost(whites, 1).lost[static_cast<std::size_t>(Cost::whites)]);

    FrameOutcome tucked = sound();
    tucked.facts.subjects.push_back({{.2, .2, .3, .3}, std::nullopt, .9, "detector"});
    tucked.facts.subjects[0].head_view = HeadView::hidden;
    tucked.facts.subjects[0].head_confidence = .8;
    CHECK(report::frame_cost(tucked, 1).lost[static_cast<std::size_t>(Cost::head_hidden)]);
    tucked.facts.subjects[0].head_confidence = .3;
    CHECK(report::frame_cost(tucked, 1).asked[static_cast<std::size_t>(Cost::head_hidden)]);
    CHECK_FALSE(report::frame_cost(tucked, 1).lost[static_cast<std::size_t>(Cost::head_hidden)]);

    FrameOutcome yours = sound();  // rejected by hand: its faults are looked up
    set_measure(yours, "blur_sigma_px", 5);
    lose_to(yours, "yours", 1);
    CHECK(report::frame_cost(yours, 1).lost[static_cast<std::size_t>(Cost::soft)]);

    FrameOutcome damaged = sound();
    damaged.facts.damage = "cut short";
    CHECK_FALSE(report::frame_cost(damaged, 1).measured);
  }

  TEST_CASE("bins are whole stops about the value most used, and known counts come out") {
    // 1/2500 s is used most; 1/2000 and 1/3200 belong to it, 1/1600 s is two thirds slower: the next stop.
    const double speeds[] = {2500, 2500, 3200, 2000, 1600, 500};
    const auto d = report::debrief(outing(12, [&](FrameOutcome& f, int b, int i) {
      f.frame.capture.exposure_s = 1 / speeds[b % 6];
      f.frame.capture.iso = b % 2 ? 400 : 500;
      if (b % 6 == 5 && i < 4) move_subject(f);
    }));
    const auto& speed = bins(d, Setting::shutter).bins;
    REQUIRE(speed.size() == 3);
    CHECK(speed[0].label == "1/500 s");
    CHECK(speed[0].frames == 20);
    CHECK(speed[0].bursts == 2);
    CHECK(share(speed[0].shares, Cost::subject_motion).lost == 8);
    CHECK(share(speed[0].shares, Cost::subject_motion).value() == doctest::Approx(.4));
    CHECK(speed[1].label == "1/1600 s");
    CHECK(speed[2].label == "1/2000 to 1/3200 s");
    CHECK(speed[2].frames == 80);
    CHECK(share(speed[2].shares, Cost::any_motion).lost == 0);
    REQUIRE(bins(d, Setting::iso).bins.size() == 1);
    CHECK(bins(d, Setting::iso).bins[0].label == "ISO 400 to 500");
    CHECK(bins(d, Setting::hour).bins[0].label == "10:00 to 10:59");
    CHECK(d.from == "2026-04-12 10:00");
    CHECK(d.frames == 120);
  }

  TEST_CASE("the shutter: advice where intervals stand apart, in the terms of the trade") {
    const auto d = report::debrief(outing(20, [](FrameOutcome& f, int b, int i) {
      const bool slow = b < 10;
      f.frame.capture.exposure_s = slow ? 1.0 / 800 : 1.0 / 3200;
      if (i < (slow ? 4 : 1)) move_subject(f);
    }));
    REQUIRE(d.advice.size() == 1);
    CHECK(d.advice[0].cost == Cost::subject_motion);
    // 40 of 100: Wilson .309 to .498; 10 of 100: .0552 to .1744 (computed apart, by bisection of the score).
    CHECK(d.advice[0].text ==
          "At 1/800 s with 600 mm, 40 % (40 of 100 frames; 95 % interval 31 to 50 %) were lost to subject "
          "motion, at "
          "1/3200 s 10 % (10 of 100 frames; 95 % interval 6 to 17 %): use 1/3200 s for birds that move like "
          "these: 2 "
          "stops from where most of the slow frames were (ISO 800 becomes 3200 at the same aperture).");
  }

  TEST_CASE("no advice from few frames, few bursts, bursts lost as a whole, or against optics") {
    const auto advice = [](int bursts, const std::function<void(FrameOutcome&, int, int)>& shape) {
      return report::debrief(outing(bursts, shape)).advice.size();
    };
    const auto speed = [](FrameOutcome& f, bool slow) {
      f.frame.capture.exposure_s = slow ? 1.0 / 500 : 1.0 / 2500;
    };
    // Two bursts a side: 8 of 10 against none.
    CHECK(advice(4, [&](FrameOutcome& f, int b, int i) {
            speed(f, b < 2);
            if (b < 2 && i < 8) move_subject(f);
          }) == 0);
    // 60 frames a side, but each burst lost or sound as a whole: 3 of 6 bursts against 1 of 6.
    CHECK(advice(12, [&](FrameOutcome& f, int b, int) {
            speed(f, b < 6);
            if (b < 3 || b == 6) move_subject(f);
          }) == 0);
    // Faster is worse: something else was at work.
    CHECK(advice(20, [&](FrameOutcome& f, int b, int i) {
            speed(f, b < 10);
            if (b >= 10 && i < 5) move_subject(f);
          }) == 0);
    // The same share on both sides.
    CHECK(advice(20, [&](FrameOutcome& f, int b, int i) {
            speed(f, b < 10);
            if (i < 4) move_subject(f);
          }) == 0);
  }

  TEST_CASE("motion that can't be laid to bird or camera is told as a whole") {
    const auto d = report::debrief(outing(20, [](FrameOutcome& f, int b, int i) {
      f.frame.capture.exposure_s = b < 10 ? 1.0 / 500 : 1.0 / 2500;
      if (b >= 10 || i >= 5) return;
      move_subject(f);
      if (i > 0)
        std::erase_if(f.facts.measures, [](const Measure& m) { return m.id == "background_motion_px"; });
    }));
    REQUIRE(d.advice.size() == 1);
    CHECK(d.advice[0].cost == Cost::any_motion);
    CHECK(d.advice[0].worse.lost == 50);
  }

  TEST_CASE("whites: how far over, when, and how much to dial") {
    // Headroom of normal scatter about -.2 EV, sd .3, after 11:00; about 1 EV before. Clipped reads 0.
    const auto d = report::debrief(outing(20, [](FrameOutcome& f, int b, int i) {
      const bool late = b >= 10;
      f.frame.capture.time_ms = kTen + (late ? 3'600'000 : 0) + b * 60'000;
      // Shares of the distribution in an order that spreads them over the bursts.
      const double share = ((i * 10 + b % 10 * 7 % 10) + .5) / 100;
      const double ev = (late ? -.2 : 1.0) + .3 * report::normal_quantile(share);
      for (const char* id : {"headroom_ev_r", "headroom_ev_g", "headroom_ev_b"})
        set_measure(f, id, std::max(0.0, ev));
      if (ev > 0) return;
      set_measure(f, "white_partly", .2);
      f.verdict.reasons.push_back({"whites_clipped", "", .2, "", .05, .9});
    }));
    REQUIRE(d.advice.size() == 1);
    CAPTURE(d.advice[0].text);
    // 74.75 % of N(-.2, .3) lie below 0; the median of those is at -.2 - .3 x .3201 = -.296 (normal tables),
    // and nine in ten lie above -.2 - .3 x 1.2816 = -.584 EV: two thirds.
    CHECK(d.advice[0].text.starts_with("Whites over by 0.3 EV in 75 % (75 of 100 frames"));
    CHECK(d.advice[0].text.ends_with(
        "after 11:00: dial down 1/3 EV, which holds about half of them; 2/3 EV hold nine frames in ten."));
    REQUIRE(d.advice[0].exposure_ev);
    CHECK(*d.advice[0].exposure_ev == doctest::Approx(-1.0 / 3));
  }

  TEST_CASE("whites: room to spare is told from the sensor's values only") {
    const auto with = [](const char* basis) {
      return report::debrief(outing(10, [&](FrameOutcome& f, int, int) {
        for (const char* id : {"headroom_ev_r", "headroom_ev_g", "headroom_ev_b"}) set_measure(f, id, 1.5);
        for (Measure& m : f.facts.measures)
          if (m.id.starts_with("headroom")) m.basis = basis;
      }));
    };
    REQUIRE(with("raw mosaic").advice.size() == 1);
    CHECK(*with("raw mosaic").advice[0].exposure_ev == doctest::Approx(1));  // a third is left
    CHECK(with("jpeg").advice.empty());
    // Over as rendered: how often, but not by how much.
    const auto over = report::debrief(outing(10, [&](FrameOutcome& f, int, int i) {
      for (Measure& m : f.facts.measures)
        if (m.id.starts_with("headroom")) {
          m.basis = "jpeg";
          m.value = i < 6 ? 0 : .4;
        }
    }));
    REQUIRE(over.advice.size() == 1);
    CHECK(over.advice[0].text.starts_with(
        "Whites over, as the camera rendered them, in 60 % (60 of 100 frames"));
    CHECK_FALSE(over.headroom_from_sensor);
  }

  TEST_CASE("text, JSON and page: every number, no text that breaks out") {
    auto bursts = outing(20, [](FrameOutcome& f, int b, int i) {
      f.frame.capture.exposure_s = b < 10 ? 1.0 / 500 : 1.0 / 2500;
      if (b < 10 && i < 5) move_subject(f);
    });
    const auto d = report::debrief(bursts);
    const std::string text = report::debrief_text(d);
    CHECK(text.find("200 frames in 20 bursts") != std::string::npos);
    CHECK(text.find("50 % (") != std::string::npos);
    const auto json = nlohmann::json::parse(report::debrief_json(d));
    CHECK(json["causes"]["subject_motion"]["lost"] == 50);
    CHECK(json["settings"]["shutter_s"]["bins"].size() == 2);
    CHECK(json["settings"]["shutter_s"]["bins"][0]["causes"]["subject_motion"]["share"] == .5);
    CHECK_FALSE(json["causes"].contains("head_hidden"));
    CHECK(json["advice"].size() == 1);
    const std::string page = report::debrief_page(bursts, "<script>alert(1)</script>\" & co");
    CHECK(page.find("<script") == std::string::npos);
    CHECK(page.find("&lt;script&gt;") != std::string::npos);
    CHECK(page.find("http://www.w3.org/2000/svg") != std::string::npos);
    CHECK(page == report::debrief_page(d, "<script>alert(1)</script>\" & co"));
    // An outing without a frame, and one without any data.
    CHECK(report::debrief_text(report::debrief({})).find("0 frames") != std::string::npos);
    FrameOutcome bare;
    bare.frame.jpeg = FileRef{};
    CHECK_FALSE(report::debrief_page({{1, "", {bare}, false}}, "x").empty());
  }
}
