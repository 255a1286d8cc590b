#include "burstsieve/image/transfer.h"

#include <cmath>

#include "burstsieve/image/buffer_pool.h"

namespace burstsieve::image {

// Constants of IEC 61966-2-1: the straight part ends at .04045 (encoded), .0031308 (linear).
double linear_of_srgb(double encoded) {
  if (!(encoded > 0)) return 0;
  if (encoded >= 1) return 1;
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

double srgb_of_linear(double linear) {
  if (!(linear > 0)) return 0;
  if (linear >= 1) return 1;
  return linear <= 0.0031308 ? linear * 12.92 : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
}

const std::array<float, 256>& linear_of_code() {
  static const std::array<float, 256> table = [] {
    std::array<float, 256> t{};
    for (std::size_t i = 0; i < t.size(); ++i)
      t[i] = static_cast<float>(linear_of_srgb(static_cast<double>(i) / 255));
    return t;
  }();
  return table;
}

std::uint8_t code_of_linear(double linear) {
  return static_cast<std::uint8_t>(std::lround(255 * srgb_of_linear(linear)));
}

cv::Mat linear(const cv::Mat& encoded) {
  CV_Assert(encoded.depth() == CV_8U && encoded.dims <= 2);
  cv::Mat out = pooled(encoded.rows, encoded.cols, CV_MAKETYPE(CV_32F, encoded.channels()));
  const auto& table = linear_of_code();
  const int count = encoded.cols * encoded.channels();
  for (int y = 0; y < encoded.rows; ++y) {
    const std::uint8_t* in = encoded.ptr<std::uint8_t>(y);
    float* to = out.ptr<float>(y);
    for (int x = 0; x < count; ++x) to[x] = table[in[x]];
  }
  return out;
}

}  // namespace burstsieve::image
