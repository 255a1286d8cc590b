// Whites through whole DNG files: levels and fractions planted in the sensor values come back, and two
// outside readers (LibRaw's own unpacking, dcraw) recount them from the same file.
#include <doctest/doctest.h>
#include <libraw/libraw.h>

#include <cmath>
#include <cstdio>
#include <memory>

#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"
#include "decode/dcraw.h"
#include "decode/dng_maker.h"
#include "decode/jpeg_maker.h"

using namespace burstsieve;
using decode_test::DngKind;

namespace {

constexpr int kSide = 480;
constexpr std::array<double, 3> kNeutral{.5, 1, .625};  // the sensor's answer to white, of DngKind

struct Planted {
  std::array<double, 3> level{};  // of the white, parts of the clip
  std::array<int, 3>
      clipped_per_1200{};  // 2x2 blocks with that channel at the clip; lower ones also in higher
  std::uint32_t black = 256, white = 4095;
};

// White over the left half of a dark mosaic. Blocks 0..k-1 of each 1,200 are clipped in a channel.
cv::Mat mosaic_of(const Planted& p, const std::array<std::uint8_t, 4>& cfa) {
  cv::Mat out(kSide, kSide, CV_16UC1);
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x) {
      const std::size_t c = cfa[static_cast<std::size_t>(y % 2 * 2 + x % 2)];
      const int block = y / 2 * (kSide / 4) + x / 2;
      const bool bird = x < kSide / 2;
      const bool clipped = bird && block % 1200 < p.clipped_per_1200[c];
      const double level = clipped ? 1 : bird ? p.level[c] : .02 * kNeutral[c];
      out.at<std::uint16_t>(y, x) =
          static_cast<std::uint16_t>(std::lround(p.black + level * (p.white - p.black)));
    }
  return out;
}

std::vector<Measure> measured(const FileRef& file) {
  const auto sensor = decode::read_sensor(file, {0, 0, .5, 1}, 1, Limits{});
  REQUIRE(sensor);
  std::vector<Measure> out;
  measure::measure_mosaic({&sensor->region, {{0, 0, .5, 1}, std::nullopt, .8, "test"}, {}, &sensor->overview},
                          out);
  return out;
}

double value(const std::vector<Measure>& out, const std::string& id) {
  const Measure* m = find(out, id);
  REQUIRE(m);
  CHECK(m->basis == "raw mosaic");
  return m->value;
}

// The sensor values as an outside reader sees them; rows x columns, 16 bits.
cv::Mat by_libraw(const std::string& path) {
  const auto raw = std::make_unique<LibRaw>();
  cv::Mat out;
  if (raw->open_file(path.c_str()) != 0 || raw->unpack() != 0) return out;
  const auto& d = raw->imgdata;
  cv::Mat(d.sizes.raw_height, d.sizes.raw_width, CV_16UC1, d.rawdata.raw_image, d.sizes.raw_pitch)
      .copyTo(out);
  return out;
}

// The definition, site by site: share of a channel's sites of the white half at the clip, and the stops from
// the level that .5 % of them exceed.
struct Recount {
  std::array<double, 3> clipped{}, headroom{};
};
Recount recount(const cv::Mat& values, const Planted& p, const std::array<std::uint8_t, 4>& cfa) {
  std::array<std::vector<double>, 3> level;
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide / 2; ++x)
      level[cfa[static_cast<std::size_t>(y % 2 * 2 + x % 2)]].push_back(
          (values.at<std::uint16_t>(y, x) - static_cast<double>(p.black)) / (p.white - p.black));
  Recount out;
  for (std::size_t c = 0; c < 3; ++c) {
    auto& v = level[c];
    std::sort(v.begin(), v.end());
    const auto first = std::lower_bound(v.begin(), v.end(), .985);
    out.clipped[c] = static_cast<double>(v.end() - first) / static_cast<double>(v.size());
    const double top = v[static_cast<std::size_t>(.995 * static_cast<double>(v.size() - 1))];
    out.headroom[c] = top >= .985 ? 0 : -std::log2(top);
  }
  return out;
}

constexpr std::array<const char*, 3> kNames{"r", "g", "b"};

}  // namespace

TEST_SUITE("measure/whites of DNG files") {
  TEST_CASE("levels within .02 EV and fractions within .1 %, by us, by LibRaw's values and by dcraw's") {
    decode_test::TempFolder folder;
    struct Case {
      double green;
      std::array<int, 3> clipped;
      DngKind kind;
      std::uint32_t black, white;
    };
    const std::vector<Case> cases{
        {.30, {0, 0, 0}, {}, 256, 4095},
        {.62, {0, 0, 0}, {.big_endian = true}, 512, 15871},
        {.95, {0, 0, 0}, {.rows_per_strip = 7}, 0, 65535},
        {.80, {0, 4, 0}, {.cfa = {2, 1, 1, 0}}, 128, 3967},
        {.80, {24, 180, 72}, {.cfa = {1, 0, 2, 1}}, 256, 4095},
        {.97, {400, 600, 480}, {.linearisation = true}, 64, 1023},  // LibRaw reads it for us, too
    };
    for (const Case& c : cases) {
      CAPTURE(c.green);
      Planted p{{}, c.clipped, c.black, c.white};
      for (std::size_t i = 0; i < 3; ++i) p.level[i] = c.green * kNeutral[i];
      DngKind kind = c.kind;
      kind.black = {c.black};
      kind.white = c.white;
      const cv::Mat planted = mosaic_of(p, kind.cfa);
      const auto file = folder.write("white.dng", decode_test::make_dng(planted, kind), FileKind::raw);
      const auto out = measured(file);
      for (const char* mode : {"-D", "-E", ""}) {
        CAPTURE(mode);
        const cv::Mat seen = *mode ? test::by_dcraw(file.path, mode) : by_libraw(file.path);
        REQUIRE(seen.size() == planted.size());
        const Recount outside = recount(seen, p, kind.cfa);
        for (std::size_t i = 0; i < 3; ++i) {
          CAPTURE(i);
          CHECK(std::abs(value(out, std::string("white_clipped_") + kNames[i]) - outside.clipped[i]) < .001);
          CHECK(std::abs(value(out, std::string("headroom_ev_") + kNames[i]) - outside.headroom[i]) < .02);
        }
      }
      // What was planted, without any reader.
      for (std::size_t i = 0; i < 3; ++i) {
        CHECK(std::abs(value(out, std::string("white_clipped_") + kNames[i]) - c.clipped[i] / 1200.0) < .001);
        if (c.clipped[i] == 0)
          CHECK(std::abs(value(out, std::string("headroom_ev_") + kNames[i]) + std::log2(p.level[i])) < .02);
      }
      // Nested: what is clipped in the least clipped channel is clipped in all.
      auto order = c.clipped;
      std::sort(order.begin(), order.end());
      CHECK(std::abs(value(out, "white_gone") - order[0] / 1200.0) < .001);
      CHECK(std::abs(value(out, "white_partly") - (order[1] - order[0]) / 1200.0) < .001);
      CHECK(std::abs(value(out, "white_recoverable") - (order[2] - order[1]) / 1200.0) < .001);
    }
  }

  // A picture may show a part of the sensor only (DNG DefaultCrop: crop modes): outline and box are the
  // picture's.
  TEST_CASE("the outline counts in the picture, not in the active area around it") {
    decode_test::TempFolder folder;
    cv::Mat values(kSide, kSide, CV_16UC1);
    constexpr std::array<std::uint8_t, 4> kCfa{0, 1, 1, 2};
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        const std::size_t c = kCfa[static_cast<std::size_t>(y % 2 * 2 + x % 2)];
        // The picture is the right half of the sensor: plumage in its left half, blown foam in its right.
        const double level = x < 240 ? .02 : x < 360 ? .6 * kNeutral[c] : 1;
        values.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(std::lround(256 + level * (4095 - 256)));
      }
    for (const bool by_libraw : {false, true}) {
      DngKind kind{.crop = {240, 0, 240, 480}, .black = {256}, .white = 4095};
      kind.linearisation = by_libraw;
      const auto file = folder.write("crop.dng", decode_test::make_dng(values, kind), FileKind::raw);
      const Region box{0, 0, 1, 1};
      const auto sensor = decode::read_sensor(file, box, 1, Limits{});
      REQUIRE(sensor);
      CHECK(sensor->region.values.size() == cv::Size(240, 480));
      const CellMask left{2, 1, {1, 0}};
      std::vector<Measure> out;
      measure::measure_mosaic({&sensor->region, {box, std::nullopt, .8, "t"}, left, &sensor->overview}, out);
      CHECK(value(out, "white_share") == doctest::Approx(1).epsilon(.01));
      CHECK(value(out, "white_gone") == 0);
      CHECK(std::abs(value(out, "headroom_ev_g") + std::log2(.6)) < .02);
      // The background is what the picture shows beside the box: foam without a black spot. The sensor's dark
      // half, which no picture shows, is none of it.
      out.clear();
      measure::measure_mosaic(
          {&sensor->region, {{0, 0, .4, 1}, std::nullopt, .8, "t"}, left, &sensor->overview}, out);
      CHECK(value(out, "shadow_blocked") == 0);
    }
  }

  TEST_CASE("the file's own levels count: the same values under another white level have another headroom") {
    decode_test::TempFolder folder;
    Planted p{{}, {}, 256, 4095};
    for (std::size_t i = 0; i < 3; ++i) p.level[i] = .5 * kNeutral[i];
    const cv::Mat planted = mosaic_of(p, {0, 1, 1, 2});
    for (const std::uint32_t white : {4095u, 8000u, 15000u}) {
      const auto file = folder.write(
          "w.dng", decode_test::make_dng(planted, {.black = {256}, .white = white}), FileKind::raw);
      const auto sensor = decode::read_sensor(file, {0, 0, .5, 1}, 1, Limits{});
      REQUIRE(sensor);
      const double x = std::round(256 + .5 * (4095 - 256));
      const double truth = std::log2((white - 256.0) / (x - 256));
      std::vector<Measure> out;
      measure::measure_mosaic({&sensor->region, {{0, 0, .5, 1}, std::nullopt, .8, "t"}, {}, nullptr}, out);
      // Two stops below .5 there is no bright plumage left to speak of.
      if (truth < 2)
        CHECK(std::abs(value(out, "headroom_ev_g") - truth) < .02);
      else
        CHECK(find(out, "headroom_ev_g") == nullptr);
    }
  }

  TEST_CASE("a mosaic that was read silences the rendering, also where it has no answer itself") {
    std::vector<Measure> measures{{"white_clipped_g", .3, "", .5, "embedded preview"},
                                  {"headroom_ev", 0, "EV", .5, "embedded preview"},
                                  {"shadow_blocked", .2, "", .3, "embedded preview"},
                                  {"blur_sigma_px", 1, "px", .9, "embedded preview"}};
    decode::Mosaic m;  // a dark bird: no white plumage on the sensor
    m.values = cv::Mat(200, 200, CV_16U, cv::Scalar(100));
    m.cfa = {decode::CfaColour::red, decode::CfaColour::green, decode::CfaColour::green,
             decode::CfaColour::blue};
    m.black = {64, 64, 64};
    m.white = {1023, 1023, 1023};
    measure::measure_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .8, "t"}, {}, nullptr}, measures);
    CHECK(find(measures, "white_clipped_g") == nullptr);
    CHECK(find(measures, "headroom_ev") == nullptr);
    CHECK(find(measures, "shadow_blocked") == nullptr);
    CHECK(find(measures, "blur_sigma_px"));
  }

  // CIE 1976 L* (CIE 15; f(t) = t^(1/3) above (6/29)^3) and IEC 61966-2-1; worked by hand in ANCHORS.
  TEST_CASE("worked values: 18 % grey, and reflectance in stops above it") {
    CHECK(116 * std::cbrt(.18) - 16 == doctest::Approx(49.496).epsilon(1e-5));
    CHECK(255 * image::srgb_of_linear(.18) == doctest::Approx(117.65).epsilon(1e-4));
    // A sensor that puts grey at .18 of its clip: a reflectance r has log2(1/r) stops of headroom and stands
    // log2(r/.18) above grey.
    const std::array<std::array<double, 2>, 4> table{{{.6, 1.74}, {.8, 2.15}, {.9, 2.32}, {1.0, 2.474}}};
    for (const auto& [reflectance, ev] : table) {
      CAPTURE(reflectance);
      CHECK(std::log2(reflectance / .18) == doctest::Approx(ev).epsilon(.003));
      decode_test::TempFolder folder;
      Planted p;
      for (std::size_t i = 0; i < 3; ++i) p.level[i] = reflectance * kNeutral[i];
      const auto file = folder.write(
          "r.dng", decode_test::make_dng(mosaic_of(p, {0, 1, 1, 2}), {.black = {256}, .white = 4095}),
          FileKind::raw);
      CHECK(std::abs(2.474 - value(measured(file), "headroom_ev") - ev) < .02);
    }
    // ISO 12232: the metered tone lies at 12.8 % of saturation (read in the stored copy, ANCHORS).
    CHECK(-std::log2(.128) == doctest::Approx(2.963).epsilon(3e-3));
  }
}
