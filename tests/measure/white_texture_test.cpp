// Held whites with feathers against held whites without, under noise of known strength.
#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>

#include "../../src/measure/sensor_noise.h"
#include "burstsieve/measure/instrument.h"

using namespace burstsieve;
using decode::CfaColour;

namespace {

constexpr double kBlack = 512, kWhite = 15871;

struct Scene {
  double level = .6;     // of the white, parts of the clip
  double contrast = 0;   // rms of the feathers' drawing, relative
  double shot = 1.3e-4;  // variance = shot x + read; ISO 800 of the generator's sensor
  double read = 1.6e-8;
  unsigned seed = 3;
};

// Feather texture of the given rms contrast: patches of 12 px with a soft rim, over white plumage on the left
// of a smooth grey.
decode::Mosaic mosaic_of(const Scene& s, int side = 800) {
  decode::Mosaic m;
  m.values = cv::Mat(side, side, CV_16U);
  m.cfa = {CfaColour::red, CfaColour::green, CfaColour::green, CfaColour::blue};
  m.black = {kBlack, kBlack, kBlack};
  m.white = {kWhite, kWhite, kWhite};
  std::mt19937 rng(s.seed);
  std::normal_distribution<double> normal;
  cv::Mat1f texture(side / 12 + 2, side / 12 + 2);
  for (float& v : texture) v = static_cast<float>(normal(rng));
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      // A slow shading over the whole bird must not count as texture.
      const double white =
          s.level * (1 + .15 * std::sin(y * .004)) * (1 + s.contrast * texture(y / 12, x / 12));
      const double light = x < side / 2 ? white : .1 + .1 * y / side;
      const double seen = std::clamp(light + std::sqrt(s.shot * light + s.read) * normal(rng), -.02, 1.0);
      m.values.at<std::uint16_t>(y, x) =
          static_cast<std::uint16_t>(std::lround(kBlack + seen * (kWhite - kBlack)));
    }
  return m;
}

std::vector<Measure> run(const decode::Mosaic& m) {
  std::vector<Measure> out;
  measure::measure_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .8, "test"}, {}, nullptr}, out);
  return out;
}

double value(const std::vector<Measure>& out, const char* id) {
  const Measure* m = find(out, id);
  REQUIRE(m);
  return m->value;
}

}  // namespace

TEST_SUITE("measure/white_texture") {
  TEST_CASE("the noise of a mosaic is found within 15 %, at any strength") {
    for (const double shot : {1.7e-5, 1.3e-4, 1e-3})
      for (const unsigned seed : {1u, 2u}) {
        const decode::Mosaic m = mosaic_of({.6, .05, shot, 1e-7, seed});
        const auto noise = measure::block_noise(measure::Blocks(m));
        REQUIRE(noise.known);
        CAPTURE(shot);
        // Two greens per block: half the variance. At the brightness of the smooth part.
        CHECK(std::sqrt(noise.variance(.15)) ==
              doctest::Approx(std::sqrt((shot * .15 + 1e-7) / 2)).epsilon(.15));
      }
  }

  TEST_CASE("a held white with feathers is told from a featureless one") {
    for (const double level : {.4, .6, .8})
      for (const double shot : {1.7e-5, 1.3e-4, 5e-4})
        for (const unsigned seed : {1u, 2u}) {
          CAPTURE(level);
          CAPTURE(shot);
          const auto flat = run(mosaic_of({level, 0, shot, 1e-8, seed}));
          const auto feathers = run(mosaic_of({level, .05, shot, 1e-8, seed}));
          CHECK(value(flat, "white_flat") > .9);
          CHECK(value(feathers, "white_flat") < .1);
          CHECK(value(flat, "white_texture") < .008);
          CHECK(value(flat, "white_clipped_g") < .01);  // both are held
        }
  }

  TEST_CASE("texture follows the planted contrast, and noise does not add to it") {
    double last = 0;
    for (const double contrast : {.02, .04, .08, .16}) {
      const double quiet = value(run(mosaic_of({.5, contrast, 1e-6, 1e-8})), "white_texture");
      const double noisy = value(run(mosaic_of({.5, contrast, 5e-4, 1e-6})), "white_texture");
      CAPTURE(contrast);
      // Neighbouring patches of 8 px share a drawing of 12 px: half of its contrast is left.
      CHECK(quiet > .45 * contrast);
      CHECK(quiet < .55 * contrast);
      CHECK(noisy == doctest::Approx(quiet).epsilon(.12));
      CHECK(quiet > 1.7 * last);
      last = quiet;
    }
  }

  TEST_CASE("where grain is coarser than the eye's threshold, confidence says so") {
    const auto clean = run(mosaic_of({.6, 0, 1e-4})), grainy = run(mosaic_of({.6, 0, 8e-3, 1e-5}));
    REQUIRE(find(grainy, "white_flat"));
    CHECK(find(grainy, "white_flat")->confidence < .6 * find(clean, "white_flat")->confidence);
  }

  TEST_CASE("a rendering answers too, with less confidence, and says what it is") {
    for (const bool feathers : {false, true}) {
      decode::Planes planes;
      planes.luma = cv::Mat(960, 960, CV_8U, cv::Scalar(70));
      cv::Mat1b noise8(120, 120);
      cv::theRNG().state = 5;
      planes.luma8 = cv::Mat(120, 120, CV_8U);
      for (int y = 0; y < 120; ++y)
        for (int x = 0; x < 120; ++x) {
          const double white =
              feathers ? 215 + 6 * cv::theRNG().gaussian(1) : 215 + .25 * cv::theRNG().gaussian(1);
          planes.luma8.at<std::uint8_t>(y, x) = cv::saturate_cast<std::uint8_t>(x < 60 ? white : 70);
        }
      cv::resize(planes.luma8, planes.luma, planes.luma.size(), 0, 0, cv::INTER_NEAREST);
      planes.source = "jpeg";
      const cv::Mat activity(60, 60, CV_32F, cv::Scalar(0));
      const Capture capture;
      const auto out = measure::measure_pixels(
          {&planes, &activity, &capture, {{0, 0, .5, 1}, std::nullopt, .8, "t"}, {}, {}});
      const Measure* flat = find(out, "white_flat");
      REQUIRE(flat);
      CHECK((feathers ? flat->value < .1 : flat->value > .9));
      CHECK(flat->confidence <= .5);
      CHECK(flat->basis == "jpeg");
    }
  }
}
