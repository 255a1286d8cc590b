#include "sensor.h"

#include <cmath>
#include <opencv2/core/utility.hpp>
#include <vector>

#include "random.h"

namespace burstsieve::generate {
namespace {

// Quantiles of the normal distribution by bisection of erfc: 16 random bits make one number.
const std::vector<float>& normal_table() {
  static const std::vector<float> table = [] {
    std::vector<float> t(65536);
    double x = -4.5;
    for (std::size_t i = 0; i < t.size(); ++i) {
      const double p = (static_cast<double>(i) + .5) / 65536;
      for (int k = 0; k < 30; ++k) {  // Newton from the neighbour's solution
        const double cdf = .5 * std::erfc(-x / std::sqrt(2.0));
        const double pdf = std::exp(-.5 * x * x) / std::sqrt(6.283185307179586);
        const double step = (cdf - p) / std::max(pdf, 1e-12);
        x -= std::clamp(step, -.5, .5);
        if (std::abs(step) < 1e-10) break;
      }
      t[i] = static_cast<float>(x);
    }
    return t;
  }();
  return table;
}

std::vector<unsigned char> table_of(const Rendering& rendering) {
  std::vector<unsigned char> t(16385);
  const double gain = std::exp2(rendering.gain_ev);
  for (std::size_t i = 0; i < t.size(); ++i) {
    const double v = srgb_encode(gain * static_cast<double>(i) / 16384);
    // Keeps 0, 1/2 and 1 where they are.
    const double curved = v - rendering.contrast * std::sin(2 * CV_PI * v) / (2 * CV_PI);
    t[i] = static_cast<unsigned char>(std::lround(255 * curved));
  }
  return t;
}

}  // namespace

NoiseModel noise_at_iso(int iso) {
  const double gain = iso / 100.0 / 60000;
  return {gain, 9 * gain * gain};
}

void add_sensor_noise(cv::Mat& linear, const NoiseModel& noise, std::uint64_t seed) {
  CV_Assert(linear.depth() == CV_32F);
  const auto& table = normal_table();
  const auto shot = static_cast<float>(noise.shot), read = static_cast<float>(noise.read);
  const int width = linear.cols * linear.channels();
  cv::parallel_for_(cv::Range(0, linear.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      Random random(derive(seed, static_cast<std::uint64_t>(y)));
      auto* p = linear.ptr<float>(y);
      std::uint64_t bits = 0;
      for (int x = 0; x < width; ++x) {
        bits = x % 4 == 0 ? random.bits() : bits >> 16;
        p[x] += std::sqrt(shot * std::max(0.0f, p[x]) + read) * table[bits & 0xFFFF];
      }
    }
  });
}

cv::Mat1w mosaic_of(const cv::Mat3f& sensor_rgb, const SensorLevels& levels) {
  cv::Mat1w mosaic(sensor_rgb.size());
  const auto range = static_cast<float>(levels.white - levels.black);
  for (int y = 0; y < mosaic.rows; ++y) {
    for (int x = 0; x < mosaic.cols; ++x) {
      const int channel = (y & 1) + (x & 1);  // R G / G B
      const float value = static_cast<float>(levels.black) + range * sensor_rgb(y, x)[channel];
      mosaic(y, x) =
          static_cast<unsigned short>(std::lround(std::clamp(value, 0.0f, static_cast<float>(levels.white))));
    }
  }
  return mosaic;
}

void to_sensor_rgb(cv::Mat3f& rgb) {
  cv::multiply(rgb, cv::Scalar(as_shot_neutral[0], as_shot_neutral[1], as_shot_neutral[2]), rgb);
}

cv::Mat3b developed(const cv::Mat3f& sensor_rgb, const Rendering& rendering) {
  static const std::vector<unsigned char> plain = table_of({});
  const bool is_plain = rendering.gain_ev == 0 && rendering.contrast == 0;
  const std::vector<unsigned char> table = is_plain ? plain : table_of(rendering);
  cv::Mat3b bgr(sensor_rgb.size());
  for (int y = 0; y < bgr.rows; ++y) {
    for (int x = 0; x < bgr.cols; ++x) {
      for (int c = 0; c < 3; ++c) {
        const auto balance = static_cast<float>(1 / as_shot_neutral[static_cast<std::size_t>(c)]);
        const float v = std::clamp(std::min(sensor_rgb(y, x)[c], 1.0f) * balance, 0.0f, 1.0f);
        bgr(y, x)[2 - c] = table[static_cast<std::size_t>(v * 16384 + .5f)];
      }
    }
  }
  return bgr;
}

double srgb_encode(double linear) {
  const double v = std::clamp(linear, 0.0, 1.0);
  return v <= .0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - .055;
}

}  // namespace burstsieve::generate
