// Exposure ladder: planted levels and fractions must come back.
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <utility>

#include "burstsieve/measure/instrument.h"

using namespace burstsieve;
using decode::CfaColour;

namespace {

constexpr double kBlack = 64, kWhite = 1023;

// White plumage of the given level (of the clip, per channel) over the left part of a dark mosaic.
decode::Mosaic plumage(std::array<double, 3> level, double share, int clipped_every = 0) {
  decode::Mosaic m;
  m.values = cv::Mat(400, 400, CV_16U);
  m.cfa = {CfaColour::red, CfaColour::green, CfaColour::green, CfaColour::blue};
  m.black = {kBlack, kBlack, kBlack};
  m.white = {kWhite, kWhite, kWhite};
  for (int y = 0; y < 400; ++y)
    for (int x = 0; x < 400; ++x) {
      const auto c = static_cast<std::size_t>(m.colour_at(y, x));
      const bool bird = x < 400 * share;
      const int block = (y / 2) * 200 + x / 2;
      const bool clipped = bird && clipped_every && block % clipped_every == 0;
      const double v = clipped ? 1.0 : bird ? level[c] : .05;
      m.values.at<std::uint16_t>(y, x) =
          static_cast<std::uint16_t>(std::lround(kBlack + v * (kWhite - kBlack)));
    }
  return m;
}

std::vector<Measure> run(const decode::Mosaic& m) {
  std::vector<Measure> out;
  measure::measure_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .8, "test"}, {}}, out);
  return out;
}

double value(const std::vector<Measure>& out, const char* id) {
  const Measure* m = find(out, id);
  REQUIRE(m);
  return m->value;
}

}  // namespace

TEST_SUITE("measure/white_clipped") {
  TEST_CASE("headroom in EV is log2((white - black) / (x - black)), within .02 EV") {
    for (const double level : {.3, .45, .6, .8, .9}) {
      const auto out = run(plumage({level, level, level}, .5));
      CAPTURE(level);
      CHECK(value(out, "headroom_ev") == doctest::Approx(std::log2(1 / level)).epsilon(.02));
      CHECK(value(out, "white_clipped_g") == 0);
      CHECK(value(out, "white_share") == doctest::Approx(.5).epsilon(.02));
    }
  }

  TEST_CASE("a planted clipped fraction comes back within .1 %") {
    for (const int every : {5, 20, 50}) {
      const auto out = run(plumage({.7, .7, .7}, .5, every));
      CAPTURE(every);
      for (const char* id : {"white_clipped_r", "white_clipped_g", "white_clipped_b"})
        CHECK(std::abs(value(out, id) - 1.0 / every) < .001);
      CHECK(value(out, "headroom_ev") == 0);
    }
  }

  TEST_CASE("channels are told apart: a warm light clips red alone") {
    auto m = plumage({1.0, .8, .7}, .5);
    m.as_shot_gain = {.8, 1, 1.14};
    const auto out = run(m);
    CHECK(value(out, "white_clipped_r") == 1);
    CHECK(value(out, "white_clipped_g") == 0);
    CHECK(value(out, "white_clipped_b") == 0);
    CHECK(value(out, "headroom_ev") == 0);
  }

  TEST_CASE("the white balance decides what is white") {
    auto m = plumage({.35, .7, .5}, .5);
    m.as_shot_gain = {2, 1, 1.4};
    CHECK(value(run(m), "white_share") == doctest::Approx(.5).epsilon(.02));
    m.as_shot_gain = {1, 1, 1};  // under this light the same values are green
    CHECK(value(run(m), "white_share") == 0);
  }

  // X-Trans as Fujifilm describes it: 20 green, 8 red, 8 blue of 36, every colour in each 3 x 3 (from
  // memory).
  TEST_CASE("a 6 x 6 pattern, from any origin, with a black and a white level for each channel") {
    const char* pattern = "GBGGRGRGRBGBGBGGRGGRGGBGBGBRGRGRGGBG";
    const std::array<double, 3> black{100, 64, 80}, white{3000, 4095, 3500}, level{.45, .9, .6};
    for (const auto& [dy, dx] : {std::pair{0, 0}, {1, 4}, {5, 3}}) {
      decode::Mosaic m;
      m.cfa_side = 6;
      m.black = black, m.white = white;
      m.as_shot_gain = {2, 1, 1.5};
      m.values = cv::Mat(300, 300, CV_16U);
      for (int y = 0; y < 6; ++y)
        for (int x = 0; x < 6; ++x) {
          const char c = pattern[(y + dy) % 6 * 6 + (x + dx) % 6];
          m.cfa[static_cast<std::size_t>(y * 6 + x)] = c == 'R'   ? CfaColour::red
                                                       : c == 'G' ? CfaColour::green
                                                                  : CfaColour::blue;
        }
      for (int y = 0; y < 300; ++y)
        for (int x = 0; x < 300; ++x) {
          const auto c = static_cast<std::size_t>(m.colour_at(y, x));
          // Of the 3 x 3 blocks every twentieth is clipped in green.
          const bool clipped = c == 1 && (y / 3 * 100 + x / 3) % 20 == 0;
          m.values.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(
              std::lround(black[c] + (clipped ? 1 : level[c]) * (white[c] - black[c])));
        }
      const auto out = run(m);
      CHECK(value(out, "white_share") == 1);
      CHECK(std::abs(value(out, "white_clipped_g") - .05) < .001);
      CHECK(std::abs(value(out, "white_recoverable") - .05) < .001);
      CHECK(value(out, "white_clipped_r") == 0);
      CHECK(std::abs(value(out, "headroom_ev_r") + std::log2(.45)) < .02);
      CHECK(std::abs(value(out, "headroom_ev_b") + std::log2(.6)) < .02);
    }
  }

  TEST_CASE("a dark bird has no white plumage to report on") {
    const auto out = run(plumage({.08, .08, .08}, .5));
    CHECK(find(out, "white_clipped_g") == nullptr);
    CHECK(value(out, "white_share") == 0);
  }

  TEST_CASE("a rendered JPEG gives the same kind of answer with less confidence, and says so") {
    decode::Planes planes;
    planes.luma = cv::Mat(400, 400, CV_8U, cv::Scalar(60));
    planes.luma(cv::Rect(0, 0, 200, 400)).setTo(220);
    planes.luma(cv::Rect(0, 0, 200, 40)).setTo(255);
    planes.cb = cv::Mat(200, 200, CV_8U, cv::Scalar(128));
    planes.cr = planes.cb.clone();
    planes.source = "jpeg";
    const cv::Mat activity(25, 25, CV_32F, cv::Scalar(0));
    const Capture capture;
    std::vector<Measure> out = measure::measure_pixels(
        {&planes, &activity, &capture, {{0, 0, 1, 1}, std::nullopt, .8, "t"}, {}, {}});
    CHECK(value(out, "white_clipped_g") == doctest::Approx(.1).epsilon(.05));
    CHECK(find(out, "white_clipped_g")->confidence < .9);
    CHECK(find(out, "white_clipped_g")->basis == "jpeg");
    const auto raw = run(plumage({.7, .7, .7}, .5));
    const double before = find(out, "white_clipped_g")->confidence;
    decode::Mosaic m = plumage({.7, .7, .7}, .5);
    measure::measure_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .8, "t"}, {}}, out);
    CHECK(find(out, "white_clipped_g")->basis == "raw mosaic");  // the better source replaces, never doubles
    CHECK(find(out, "white_clipped_g")->confidence > before);
  }
}
