#include "rendering.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>
#include <vector>
// clang-format off: jpeglib.h needs what <cstdio> declares
#include <jpeglib.h>
// clang-format on

namespace burstsieve::compare {
namespace {

constexpr double kBlack = 2048, kRange = 62000;               // of the 16-bit mosaic
constexpr std::array<double, 3> kSensorNeutral{.6, 1.0, .5};  // B, G, R

double coded(double linear) {
  const double v = std::clamp(linear, 0.0, 1.0);
  return v <= .0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - .055;
}

std::uint8_t code_of(double linear) {
  constexpr int kSteps = 1 << 15;  // the curve's foot climbs .1 codes a step
  static const std::vector<std::uint8_t> table = [] {
    std::vector<std::uint8_t> codes(kSteps + 1);
    for (int i = 0; i <= kSteps; ++i)
      codes[static_cast<std::size_t>(i)] =
          static_cast<std::uint8_t>(std::lround(255 * coded(static_cast<double>(i) / kSteps)));
    return codes;
  }();
  return table[static_cast<std::size_t>(std::clamp(linear, 0.0, 1.0) * kSteps + .5)];
}

struct SensorNoise {
  double shot = 0, read = 0;
  explicit SensorNoise(double at_third)
      : shot(.9 * at_third * at_third / .3), read(.1 * at_third * at_third) {}
  double deviation(double signal) const { return std::sqrt(std::max(0.0, shot * signal + read)); }
};

cv::Mat3f colours_of(const Scene& scene) {
  if (!scene.colour.empty()) return scene.colour;
  cv::Mat3f out;
  cv::merge(std::vector<cv::Mat>(3, scene.linear), out);
  return out;
}

// One draw per pixel moves all channels: the luma's noise is then the channels'.
cv::Mat3b every_colour_everywhere(const cv::Mat3f& light, double noise, unsigned seed) {
  const SensorNoise sensor(noise);
  std::mt19937 rng(seed);
  std::normal_distribution<double> normal;
  cv::Mat3b out(light.size());
  for (int y = 0; y < light.rows; ++y)
    for (int x = 0; x < light.cols; ++x) {
      const double draw = normal(rng);
      for (int c = 0; c < 3; ++c) {
        const double v = light(y, x)[c];
        out(y, x)[c] = code_of(v + sensor.deviation(v) * draw);
      }
    }
  return out;
}

// RGGB: row 0 is red, green; row 1 green, blue. Index into B, G, R.
int site_colour(int y, int x) {
  return y % 2 == 0 ? (x % 2 == 0 ? 2 : 1) : (x % 2 == 0 ? 1 : 0);
}

cv::Mat3b through_mosaic(const cv::Mat3f& light, Mosaic method, double noise, unsigned seed) {
  const SensorNoise sensor(noise);
  std::mt19937 rng(seed);
  std::normal_distribution<double> normal;
  cv::Mat1w sites(light.size());
  for (int y = 0; y < light.rows; ++y)
    for (int x = 0; x < light.cols; ++x) {
      const int c = site_colour(y, x);
      const double signal = std::max(0.0f, light(y, x)[c]) * kSensorNeutral[static_cast<std::size_t>(c)];
      const double value = std::min(1.0, signal + sensor.deviation(signal) * normal(rng));
      sites(y, x) = cv::saturate_cast<std::uint16_t>(kBlack + kRange * value);
    }
  cv::Mat3w full;  // OpenCV names the pattern after its second row: BG is RGGB
  cv::demosaicing(sites, full, method == Mosaic::bilinear ? cv::COLOR_BayerBG2BGR : cv::COLOR_BayerBG2BGR_EA);
  cv::Mat3b out(full.size());
  for (int y = 0; y < full.rows; ++y)
    for (int x = 0; x < full.cols; ++x)
      for (int c = 0; c < 3; ++c)
        out(y, x)[c] =
            code_of((full(y, x)[c] - kBlack) / kRange / kSensorNeutral[static_cast<std::size_t>(c)]);
  return out;
}

std::vector<std::uint8_t> jpeg_of(const cv::Mat3b& picture, int quality, bool full_chroma) {
  jpeg_compress_struct c{};
  jpeg_error_mgr errors{};
  c.err = jpeg_std_error(&errors);  // ends the program: only running out of memory leads there
  jpeg_create_compress(&c);
  unsigned char* memory = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&c, &memory, &size);
  c.image_width = static_cast<JDIMENSION>(picture.cols);
  c.image_height = static_cast<JDIMENSION>(picture.rows);
  c.input_components = 3;
  c.in_color_space = JCS_EXT_BGR;
  jpeg_set_defaults(&c);
  jpeg_set_quality(&c, quality, TRUE);
  c.comp_info[0].h_samp_factor = c.comp_info[0].v_samp_factor = full_chroma ? 1 : 2;
  jpeg_start_compress(&c, TRUE);
  while (c.next_scanline < c.image_height) {
    auto* row = const_cast<JSAMPROW>(picture.ptr(static_cast<int>(c.next_scanline)));
    jpeg_write_scanlines(&c, &row, 1);
  }
  jpeg_finish_compress(&c);
  std::vector<std::uint8_t> out(memory, memory + size);
  std::free(memory);
  jpeg_destroy_compress(&c);
  return out;
}

}  // namespace

double demosaic_variance(Mosaic mosaic) {
  switch (mosaic) {
    case Mosaic::bilinear:
      return .34;
    case Mosaic::edge_aware:
      return .21;
    case Mosaic::none:
      break;
  }
  return 0;
}

std::string Rendering::name() const {
  std::string out = mosaic == Mosaic::none       ? ""
                    : mosaic == Mosaic::bilinear ? "Bayer bilinear"
                                                 : "Bayer edge-aware";
  if (quality > 0)
    out += fmt::format("{}JPEG {} {}", out.empty() ? "" : ", ", quality, full_chroma ? "4:4:4" : "4:2:0");
  return out.empty() ? "as it is" : out;
}

cv::Mat rendered(const Scene& scene, const Rendering& rendering, double noise, unsigned seed) {
  const cv::Mat3f light = colours_of(scene);
  const cv::Mat3b picture = rendering.mosaic == Mosaic::none
                                ? every_colour_everywhere(light, noise, seed)
                                : through_mosaic(light, rendering.mosaic, noise, seed);
  cv::Mat luma;
  if (rendering.quality > 0)  // grey: libjpeg's Y plane as it is
    return cv::imdecode(jpeg_of(picture, rendering.quality, rendering.full_chroma), cv::IMREAD_GRAYSCALE);
  cv::cvtColor(picture, luma, cv::COLOR_BGR2GRAY);
  return luma;
}

}  // namespace burstsieve::compare
