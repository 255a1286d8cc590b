// Shadows and scene contrast: planted shares and stops come back, from the raw and from a rendering.
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"

using namespace burstsieve;
using decode::CfaColour;

namespace {

constexpr double kBlack = 512, kWhite = 15871;

// A white bird in the middle third of the picture; `dark` of the rest at `shadow`, the other part at `mid`.
struct Scene {
  double white = .8, mid = .1, shadow = 1e-3, dark = .3;
  double shot = 1.7e-5, read = 2.5e-9;  // ISO 100 of the generator's sensor
};

Region box() {
  return {1 / 3.0, 1 / 3.0, 1 / 3.0, 1 / 3.0};
}

double light_at(const Scene& s, double u, double v) {
  if (u > .34 && u < .66 && v > .34 && v < .66) return s.white;
  return std::fmod(v * 11 + u * 7, 1.0) < s.dark ? s.shadow : s.mid;  // stripes: an even share
}

decode::Mosaic overview_of(const Scene& s) {
  decode::Mosaic m;
  constexpr int kSide = 1600, kGroups = 40;
  m.values = cv::Mat(2 * kGroups, kSide, CV_16U);
  m.cfa = {CfaColour::red, CfaColour::green, CfaColour::green, CfaColour::blue};
  m.black = {kBlack, kBlack, kBlack};
  m.white = {kWhite, kWhite, kWhite};
  m.sensor_width = m.sensor_height = kSide;
  m.row_step = kSide / kGroups;
  std::mt19937 rng(5);
  std::normal_distribution<double> normal;
  for (int y = 0; y < m.values.rows; ++y)
    for (int x = 0; x < kSide; ++x) {
      const double light = light_at(s, (x / 2 * 2 + 1) / 1600.0, (m.sensor_row(y) / 2 * 2 + 1) / 1600.0);
      const double seen = light + std::sqrt(s.shot * light + s.read) * normal(rng);
      m.values.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(
          std::lround(std::clamp(kBlack + seen * (kWhite - kBlack), 0.0, 65535.0)));
    }
  return m;
}

std::vector<Measure> run(const Scene& s) {
  const decode::Mosaic overview = overview_of(s);
  decode::Mosaic region = overview;  // not looked at by these two
  std::vector<Measure> out;
  measure::measure_mosaic({&region, {box(), std::nullopt, .8, "test"}, {}, &overview}, out);
  return out;
}

Measure of(const std::vector<Measure>& out, const char* id) {
  const Measure* m = find(out, id);
  REQUIRE(m);
  return *m;
}

std::vector<Measure> rendered(const Scene& s) {
  decode::Planes planes;
  planes.luma = cv::Mat(800, 800, CV_8U);
  for (int y = 0; y < 800; ++y)
    for (int x = 0; x < 800; ++x)
      planes.luma.at<std::uint8_t>(y, x) = image::code_of_linear(light_at(s, (x + .5) / 800, (y + .5) / 800));
  planes.source = "jpeg";
  const cv::Mat activity(50, 50, CV_32F, cv::Scalar(0));
  const Capture capture;
  return measure::measure_pixels({&planes, &activity, &capture, {box(), std::nullopt, .8, "t"}, {}, {}});
}

}  // namespace

TEST_SUITE("measure/shadows") {
  TEST_CASE(
      "the planted share of black background comes back, from raw within 1 %, from a rendering within 2 %") {
    for (const double dark : {.1, .3, .7}) {
      CAPTURE(dark);
      CHECK(of(run({.9, .1, 5e-4, dark}), "shadow_blocked").value == doctest::Approx(dark).epsilon(.03));
      CHECK(of(rendered({.9, .1, 5e-4, dark}), "shadow_blocked").value == doctest::Approx(dark).epsilon(.05));
    }
    CHECK(of(run({.9, .1, .01, .3}), "shadow_blocked").value < .005);
    CHECK(of(rendered({.9, .1, .01, .3}), "shadow_blocked").value < .005);
  }

  // L* = 2 is Y = .00221 of white. The same scene one or two stops under: the whites still have headroom that
  // lifts the shadows again when they are held at the clip.
  TEST_CASE("it is counted with the whites held, so exposure does not change it until they clip") {
    for (const double under : {1.0, .5, .3}) {
      const Scene above{.9 * under, .1 * under, .004 * under, .3},
          below{.9 * under, .1 * under, .0015 * under, .3};
      CAPTURE(under);
      CHECK(of(run(above), "shadow_blocked").value < .01);
      CHECK(of(run(below), "shadow_blocked").value == doctest::Approx(.3).epsilon(.05));
    }
    const Measure clipped = of(run({1.3, .1, .0015, .3}), "shadow_blocked");
    CHECK(clipped.confidence < .6);  // a lower bound only
    CHECK(of(run({.9, .1, .0015, .3}), "shadow_blocked").confidence > .85);
  }

  TEST_CASE("scene contrast is log2 of bright over dark, within .1 EV, whatever the exposure") {
    for (const double stops : {3.0, 5.0, 7.0})
      for (const double white : {.9, .45}) {
        CAPTURE(stops);
        CAPTURE(white);
        const Scene s{white, .2 * white, white * std::exp2(-stops), .4};
        const Measure m = of(run(s), "scene_contrast_ev");
        // Noise widens the dark percentile: a tenth of a stop at seven stops.
        CHECK(std::abs(m.value - stops) < (stops > 6 ? .25 : .1));
        CHECK(m.unit == "EV");
        const Measure j = of(rendered(s), "scene_contrast_ev");
        CHECK(std::abs(j.value - stops) < (stops > 6 ? .3 : .12));
        CHECK(j.confidence <= .5);
        CHECK(j.basis == "jpeg");
        CHECK(m.confidence > .8);
      }
  }

  TEST_CASE("noise is the floor: a scene that goes on below it has at least that contrast, less sure") {
    const Measure clear = of(run({.9, .1, 1e-2, .3}), "scene_contrast_ev");
    const Measure deep = of(run({.9, .1, 1e-7, .3, 1e-3, 1e-6}), "scene_contrast_ev");
    CHECK(deep.confidence < clear.confidence);
    CHECK(deep.value == doctest::Approx(std::log2(.9 / std::sqrt(1e-6 / 2))).epsilon(.1));
  }

  TEST_CASE(
      "without rows of the whole picture the raw has no answer, and a picture full of bird has no "
      "background") {
    const decode::Mosaic m = overview_of({});
    std::vector<Measure> out;
    measure::measure_mosaic({&m, {box(), std::nullopt, .8, "t"}, {}, nullptr}, out);
    CHECK(find(out, "shadow_blocked") == nullptr);
    out.clear();
    measure::measure_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .8, "t"}, {}, &m}, out);
    CHECK(find(out, "shadow_blocked") == nullptr);
    CHECK(find(out, "scene_contrast_ev"));
  }
}
