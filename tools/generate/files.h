// Writing photographs: EXIF, JPEG and CFA DNG.
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <string>

#include "burstsieve/base/result.h"
#include "sensor.h"
#include "tiff.h"

namespace burstsieve::generate {

// What a camera writes about one release of the shutter (Exif 2.32).
struct Exif {
  std::string make = "Saltmarsh Optics";
  std::string model = "SO-1";
  std::string serial = "SM100001";
  std::string lens = "Saltmarsh 600mm f/5.6 T";
  std::int64_t local_time_ms = 0;  // camera's clock, milliseconds since 1970-01-01 00:00 of that clock
  int utc_offset_minutes = 60;
  double exposure_s = 1.0 / 2500;
  double f_number = 5.6;
  int iso = 800;
  double focal_mm = 600;
  double exposure_bias_ev = 0;
  int orientation = 1;        // EXIF 1..8
  int width = 0, height = 0;  // as stored, before the orientation is applied
  // SubjectArea: centre x, centre y, width, height in stored pixels; width 0 leaves the tag out.
  std::array<int, 4> subject_area{0, 0, 0, 0};
};

// The APP1 payload without its "Exif\0\0" prefix: a TIFF with IFD0 and the Exif directory.
ByteBuffer exif_block(const Exif& exif);

struct JpegOptions {
  int quality = 92;          // 1..100
  bool full_chroma = false;  // false: 4:2:2, as cameras do
};

// Baseline JPEG (libjpeg-turbo); `exif` null leaves the block out and the result has no APP markers at all.
ByteBuffer encode_jpeg(const cv::Mat3b& bgr, const JpegOptions& options, const Exif* exif);
Status write_jpeg(const std::string& path, const cv::Mat3b& bgr, const JpegOptions& options,
                  const Exif& exif);

struct DngImage {
  cv::Mat1w mosaic;                              // sensor layout, even sides
  std::array<unsigned char, 4> cfa{0, 1, 1, 2};  // 2x2, row by row: 0 red, 1 green, 2 blue
  SensorLevels levels;                           // bits 12 packs two samples in three bytes
  NoiseModel noise;
  ByteBuffer preview;  // JPEG stream, 4:2:2, sensor layout
  int preview_width = 0, preview_height = 0;
};

// DNG 1.4, uncompressed CFA in SubIFD 0, the preview in IFD0.
ByteBuffer encode_dng(const DngImage& image, const Exif& exif);
Status write_dng(const std::string& path, const DngImage& image, const Exif& exif);

// Creates the folders on the way; replaces an existing file.
Status write_file(const std::string& path, const ByteBuffer& bytes);

}  // namespace burstsieve::generate
