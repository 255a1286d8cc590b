// The sRGB transfer curve: 8-bit codes to linear light and back (IEC 61966-2-1:1999, clause 5.2).
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>

namespace burstsieve::image {

// Linear light, 0..1 (1 = clip), of an encoded value 0..1. Values outside are clamped.
double linear_of_srgb(double encoded);
// The inverse. Values outside 0..1 are clamped; a NaN counts as 0.
double srgb_of_linear(double linear);

// linear_of_srgb(code / 255) for every 8-bit code.
const std::array<float, 256>& linear_of_code();
// The 8-bit code nearest to the encoded value of `linear`; exact inverse of linear_of_code().
std::uint8_t code_of_linear(double linear);

// A CV_8U picture of any channel count as CV_32F linear light.
cv::Mat linear(const cv::Mat& encoded);

}  // namespace burstsieve::image
