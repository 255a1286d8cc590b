// The DNG NoiseProfile: read from the file, and used where the mosaic is measured.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <limits>
#include <random>

#include "../../src/measure/sensor_noise.h"
#include "decode/dng_maker.h"
#include "decode/jpeg_maker.h"

using namespace burstsieve;
using decode_test::DngKind;

namespace {

constexpr double kShot = 2.5e-4, kRead = 4e-7;  // planted
constexpr double kBlack = 256, kWhite = 15871;

// Texture from site to site, nowhere smooth, around a third of the range; planted noise on top.
cv::Mat textured(double texture, unsigned seed = 4) {
  std::mt19937 rng(seed);
  std::normal_distribution<double> normal;
  cv::Mat out(480, 480, CV_16UC1);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) {
      const double light = .3 + texture * std::sin(x * .9) * std::cos(y * .7 + x * .13);
      const double seen = light + std::sqrt(kShot * light + kRead) * normal(rng);
      out.at<std::uint16_t>(y, x) =
          static_cast<std::uint16_t>(std::lround(kBlack + seen * (kWhite - kBlack)));
    }
  return out;
}

DngKind kind_with(std::vector<double> noise) {
  DngKind kind;
  kind.black = {static_cast<std::uint32_t>(kBlack)};
  kind.white = static_cast<std::uint32_t>(kWhite);
  kind.noise = std::move(noise);
  return kind;
}

decode::Mosaic mosaic_of(const decode_test::TempFolder& folder, const cv::Mat& values, const DngKind& kind) {
  const FileRef file = folder.write("noise.dng", decode_test::make_dng(values, kind));
  const auto sensor = decode::read_sensor(file, {0, 0, 1, 1}, 1, Limits{});
  REQUIRE(sensor);
  CHECK(sensor->region.noise.has_value() == sensor->overview.noise.has_value());
  return sensor->region;
}

double green_deviation(const measure::BlockNoise& noise) {
  return std::sqrt(noise.variance(.3));
}

}  // namespace

TEST_SUITE("measure/noise_profile") {
  TEST_CASE("a planted profile is read: one pair or one per colour, either byte order, LibRaw's way too") {
    decode_test::TempFolder folder;
    const cv::Mat values = textured(.1);
    for (const bool big_endian : {false, true})
      for (const bool by_libraw : {false, true})
        for (const bool each : {false, true}) {
          CAPTURE(big_endian);
          CAPTURE(by_libraw);
          CAPTURE(each);
          DngKind kind = kind_with({kShot, kRead});
          if (each) kind.noise = {2 * kShot, 2 * kRead, kShot, kRead, 3 * kShot, 3 * kRead};
          kind.big_endian = big_endian;
          kind.linearisation = by_libraw;
          const auto m = mosaic_of(folder, values, kind);
          REQUIRE(m.noise);
          CHECK((*m.noise)[1].shot == kShot);
          CHECK((*m.noise)[1].read == kRead);
          CHECK((*m.noise)[0].shot == (each ? 2 * kShot : kShot));
          CHECK((*m.noise)[2].read == (each ? 3 * kRead : kRead));
        }
  }

  // exiftool (Debian's libimage-exiftool-perl) is the outside witness of what the file says.
  TEST_CASE("exiftool reads the same pair from the same file") {
    decode_test::TempFolder folder;
    const FileRef file =
        folder.write("witness.dng", decode_test::make_dng(textured(.1), kind_with({kShot, kRead})));
    std::FILE* pipe = popen(("exiftool -s3 -n -NoiseProfile '" + file.path + "' 2>/dev/null").c_str(), "r");
    double shot = 0, read = 0;
    const int got = pipe ? std::fscanf(pipe, "%lf %lf", &shot, &read) : 0;
    if (pipe) pclose(pipe);
    if (got != 2) {
      MESSAGE("no exiftool, nothing checked");
      return;
    }
    CHECK(std::abs(shot / kShot - 1) < 1e-6);
    CHECK(std::abs(read / kRead - 1) < 1e-6);
  }

  TEST_CASE("nonsense is as good as no profile") {
    decode_test::TempFolder folder;
    const cv::Mat values = textured(.1);
    const double nan = std::numeric_limits<double>::quiet_NaN();
    for (const std::vector<double>& bad : std::vector<std::vector<double>>{
             {}, {kShot}, {nan, kRead}, {kShot, -1}, {0, 0}, {7, 0}, {kShot, kRead, kShot, kRead}})
      CHECK_FALSE(mosaic_of(folder, values, kind_with(bad)).noise.has_value());
  }

  TEST_CASE("where everything is textured the profile is right and the estimate is not") {
    decode_test::TempFolder folder;
    const double known = std::sqrt((kShot * .3 + kRead) / 2);  // two greens per block
    const auto stated = mosaic_of(folder, textured(.1), kind_with({kShot, kRead}));
    CHECK(std::abs(green_deviation(measure::block_noise(measure::Blocks(stated))) / known - 1) < 1e-9);
    const auto silent = mosaic_of(folder, textured(.1), kind_with({}));
    CHECK(green_deviation(measure::block_noise(measure::Blocks(silent))) > 1.5 * known);
  }

  TEST_CASE("a profile of twice the noise that the mosaic shows is not believed") {
    decode_test::TempFolder folder;
    const double known = std::sqrt((kShot * .3 + kRead) / 2);
    const auto m = mosaic_of(folder, textured(0), kind_with({9 * kShot, 9 * kRead}));
    CHECK(green_deviation(measure::block_noise(measure::Blocks(m))) == doctest::Approx(known).epsilon(.15));
  }
}
