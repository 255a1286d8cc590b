// From scene-linear light to sensor numbers: exposure, colour filter, noise, quantisation.
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>

namespace burstsieve::generate {

// variance = S x + O for a signal x in 0..1 of the sensor's range (DNG specification, NoiseProfile).
struct NoiseModel {
  double shot = 0;  // S
  double read = 0;  // O
};

// Noise of the invented sensors: 60,000 electrons at ISO 100 and 3 electrons of read noise, so
// S = ISO/100/60000 and O = (3/60000 * ISO/100)^2. Typical of a full-frame sensor of the 2020s (from memory).
NoiseModel noise_at_iso(int iso);

struct SensorLevels {
  int bits = 16;  // how samples are stored: 12 (packed) or 16
  int black = 512;
  int white = 15871;
};

// Sensor response to a neutral: red and blue sites see less than green ones (DNG AsShotNeutral).
inline constexpr std::array<double, 3> as_shot_neutral{.5, 1.0, .6};

// Adds normal noise to each element in place; any number of channels; x is in units of sensor range. Noise
// depends on the seed and the element's position only.
void add_sensor_noise(cv::Mat& linear, const NoiseModel& noise, std::uint64_t seed);

// White-balanced scene-linear RGB (1 = green clips) to a RGGB mosaic, CV_16U, rounded and clipped to
// 0..white. The image is in sensor layout, with even sides.
cv::Mat1w mosaic_of(const cv::Mat3f& sensor_rgb, const SensorLevels& levels);

// Multiplies by as_shot_neutral: light to the share of the sensor's range.
void to_sensor_rgb(cv::Mat3f& rgb);

// What a camera's rendering does beyond white balance and the sRGB curve.
struct Rendering {
  double gain_ev = 0;   // it clips this many stops below the sensor
  double contrast = 0;  // 0..1: steepens the middle of the encoded curve, compresses both ends
};

// Sensor RGB to 8-bit BGR as a camera would store it: clip at the sensor's range, white balance and gain,
// clip at 1, sRGB curve (IEC 61966-2-1), contrast.
cv::Mat3b developed(const cv::Mat3f& sensor_rgb, const Rendering& rendering = {});

// IEC 61966-2-1, 0..1 to 0..1; clips outside.
double srgb_encode(double linear);

}  // namespace burstsieve::generate
