// Casts planted in rendered plumage and in photographs of white birds come back; what is not white is left
// out.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/colour_temperature.h"
#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"

using namespace burstsieve;

namespace {

constexpr double kNeutral =
    153.7;  // D65, as tests/image/colour_temperature_test.cpp holds it against the CIE

// Linear BGR as a JPEG of a camera: sRGB, 4:2:0.
cv::Mat encoded(const cv::Mat3f& linear) {
  cv::Mat3b out(linear.size());
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x)
      for (int c = 0; c < 3; ++c) out(y, x)[c] = image::code_of_linear(linear(y, x)[c]);
  return out;
}

cv::Mat3f decoded(const cv::Mat& bgr) {
  cv::Mat3f out;
  image::linear(bgr).copyTo(out);
  return out;
}

// The light of a scene that was neutral moves by `shift` mired along daylight, and the camera does not
// follow.
cv::Mat3f under(const cv::Mat3f& linear, double shift, double duv = .0032) {
  const auto rgb = image::linear_srgb_of(image::chromaticity_at(kNeutral + shift, duv));
  const double most = std::max({rgb[0], rgb[1], rgb[2]});
  cv::Mat3f out;
  cv::multiply(linear, cv::Scalar(rgb[2] / most, rgb[1] / most, rgb[0] / most), out);
  return out;
}

std::vector<Measure> run(const cv::Mat3f& linear, const CellMask& mask = {}) {
  const test::TempFolder folder;
  const std::string path = folder.at("white.jpg");
  REQUIRE(cv::imwrite(path, encoded(linear), {cv::IMWRITE_JPEG_QUALITY, 92}));
  FileRef file;
  file.path = path;
  const auto planes = decode::decode_planes(file, 1, {});
  REQUIRE(planes);
  const cv::Mat activity = image::activity_map(planes->luma);
  const Capture capture;
  const measure::PixelInput input{&*planes, &activity, &capture, {{0, 0, 1, 1}, {}, .9, "test"}, mask, {}};
  std::vector<Measure> out;
  for (const measure::Instrument* i : measure::instruments())
    if (i->id == "white_colour") i->from_pixels(input, out);
  return out;
}

double value(const std::vector<Measure>& out, const char* id) {
  const Measure* m = find(out, id);
  REQUIRE(m);
  return m->value;
}

double trust(const std::vector<Measure>& out) {
  const Measure* m = find(out, "white_mired");
  return m ? m->confidence : 0;
}

struct Look {
  double level = .6;   // of the lit plumage
  double shade = 0;    // how much bluer its shaded part is, in log2 of red over blue
  double share = .6;   // of the picture; the rest is dark foliage
  double noise = .01;  // at .3 of the clip
  unsigned seed = 1;
};

// White plumage with feathers, shaded on one side, over foliage.
cv::Mat3f plumage(const Look& look, int side = 640) {
  std::mt19937 rng(look.seed);
  std::normal_distribution<float> normal;
  cv::Mat1f feathers(side / 10 + 2, side / 10 + 2);
  for (float& v : feathers) v = normal(rng);
  cv::Mat3f out(side, side);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const double white = look.level * (1 - .45 * y / side) * (1 + .06 * feathers(y / 10, x / 10));
      const double blue = std::exp2(look.shade * y / side);
      const bool bird = x < side * look.share;
      const std::array<double, 3> light{bird ? white * blue : .03, bird ? white : .08, bird ? white : .04};
      for (int c = 0; c < 3; ++c) {
        const double l = light[static_cast<std::size_t>(c)];
        const double grain = look.noise * .3 * std::sqrt(l / .3) * normal(rng);
        out(y, x)[c] = static_cast<float>(std::clamp(l + grain, 0.0, 1.0));
      }
    }
  return out;
}

struct Bird {
  cv::Mat3f linear;
  CellMask mask;
};

// A cut-out over foliage, three times as large, with its own outline.
Bird stamp(const std::string& path) {
  cv::Mat in = cv::imread(path, cv::IMREAD_UNCHANGED);
  REQUIRE(in.channels() == 4);
  cv::resize(in, in, {}, 3, 3, cv::INTER_CUBIC);
  Bird out;
  out.linear = decoded(cv::Mat(in.size(), CV_8UC3, cv::Scalar(50, 90, 60)));
  out.mask.cols = out.mask.rows = 64;
  out.mask.cells.assign(64 * 64, 0);
  std::vector<cv::Mat> parts;
  cv::split(in, parts);
  cv::Mat bgr;
  cv::merge(std::vector<cv::Mat>(parts.begin(), parts.begin() + 3), bgr);
  decoded(bgr).copyTo(out.linear, parts[3] > 250);
  cv::Mat whole;
  cv::resize(parts[3] > 250, whole, {64, 64}, 0, 0, cv::INTER_AREA);
  for (int i = 0; i < 64 * 64; ++i) out.mask.cells[static_cast<std::size_t>(i)] = whole.data[i] > 250;
  return out;
}

}  // namespace

TEST_SUITE("measure/white_colour") {
  TEST_CASE("a cast of -60 to +60 mired over neutral plumage comes back within 3, its tint within .002") {
    for (const double level : {.4, .6, .8})
      for (const double shift : {-60., -30., -10., 0., 10., 30., 60.}) {
        const auto out = run(under(plumage({level}), shift));
        CAPTURE(level);
        CAPTURE(shift);
        CAPTURE(value(out, "white_mired"));
        CHECK(std::abs(value(out, "white_mired") - kNeutral - shift) <= 3);
        CHECK(std::abs(value(out, "white_duv") - .0032) <= .002);
      }
  }

  TEST_CASE("noise and seed change it by less than a mired") {
    for (const unsigned seed : {1u, 2u})
      for (const double noise : {.003, .03, .06}) {
        const auto out = run(under(plumage({.6, 0, .6, noise, seed}), 20));
        CHECK(std::abs(value(out, "white_mired") - kNeutral - 20) <= 1.5);
      }
  }

  TEST_CASE("a tint of the light is told from its temperature") {
    const auto green = run(under(plumage({}), 10, .0132)), magenta = run(under(plumage({}), 10, -.0068));
    CHECK(std::abs(value(green, "white_duv") - .0132) <= .002);
    CHECK(std::abs(value(magenta, "white_duv") + .0068) <= .002);
    CHECK(std::abs(value(green, "white_mired") - value(magenta, "white_mired")) <= 3);
    CHECK(trust(green) < trust(run(plumage({}))));
  }

  TEST_CASE("little plumage, mixed light and strong casts lower the confidence; none says nothing") {
    const double good = trust(run(plumage({})));
    CHECK(good >= .7);
    CHECK(trust(run(plumage({.6, 0, .03}))) < .6 * good);
    CHECK(trust(run(plumage({.6, .8}))) < good);
    CHECK(trust(run(under(plumage({}), 60))) < .8 * good);
    CHECK(run(plumage({.6, 0, 0})).empty());                            // foliage
    CHECK(run(plumage({.1})).empty());                                  // too dark
    CHECK(run(cv::Mat3f(400, 400, cv::Vec3f(1, 1, 1))).empty());        // clipped
    CHECK(run(cv::Mat3f(400, 400, cv::Vec3f(.2F, .6F, .6F))).empty());  // yellow
    CHECK(run(cv::Mat3f(400, 400, cv::Vec3f(.4F, .7F, .4F))).empty());  // green
  }

  TEST_CASE("the lit white is taken, not the darker buff beside it") {
    cv::Mat3f picture = plumage({.7});
    picture.colRange(0, 250) = cv::Scalar(.2, .33, .42);
    const auto out = run(under(picture, 15));
    CHECK(std::abs(value(out, "white_mired") - kNeutral - 15) <= 3);
    CHECK(trust(out) < trust(run(under(plumage({.7}), 15))));
  }

  TEST_CASE("a grey picture has no colour") {
    decode::Planes grey;
    grey.luma = cv::Mat(400, 400, CV_8U, cv::Scalar(200));
    grey.luma8 = cv::Mat(50, 50, CV_8U, cv::Scalar(200));
    grey.source = "jpeg";
    const Capture capture;
    const measure::PixelInput input{&grey, nullptr, &capture, {{0, 0, 1, 1}, {}, .9, "test"}, {}, {}};
    std::vector<Measure> out;
    for (const measure::Instrument* i : measure::instruments())
      if (i->id == "white_colour") i->from_pixels(input, out);
    CHECK(out.empty());
  }

  // Cut-outs of photographs (package tuxpaint-stamps-default): the shift between two pictures of one bird.
  TEST_CASE("casts planted in photographs of white birds come back within 3 mired at -20 to 20, 5 at 40") {
    const std::string folder =
        test::data_cache() + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds/";
    for (const char* name : {"albino_peahen", "pelican", "penguin", "gander", "ostrich"}) {
      const std::string path = folder + name + ".png";
      if (!std::filesystem::exists(path)) {
        MESSAGE("SKIP: " << path << " is not there (tools/test-data.sh)");
        continue;
      }
      Bird bird = stamp(path);
      bird.linear *= .8;  // clipped whites are left out; dimmed by the cast they would come in
      const auto before = run(bird.linear, bird.mask);
      CHECK(trust(before) >= .45);
      for (const double shift : {-40., -20., -8., 8., 20., 40.}) {
        const auto after = run(under(bird.linear, shift), bird.mask);
        const double moved = value(after, "white_mired") - value(before, "white_mired");
        CAPTURE(std::string(name));
        CAPTURE(shift);
        CAPTURE(moved);
        CHECK(std::abs(moved - shift) <= (std::abs(shift) > 20 ? 5 : 3));
      }
    }
  }

  // A cream-coloured owl: its shifts come back up to a third too small.
  TEST_CASE("plumage off neutral is reported with little confidence") {
    const std::string path =
        test::data_cache() + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds/owl.png";
    if (!std::filesystem::exists(path)) {
      MESSAGE("SKIP: " << path << " is not there (tools/test-data.sh)");
      return;
    }
    const Bird bird = stamp(path);
    CHECK(trust(run(bird.linear, bird.mask)) < .45);
  }
}
