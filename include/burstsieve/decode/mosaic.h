// The raw sensor values behind a region of the frame.
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <optional>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/region.h"

namespace burstsieve::decode {

enum class CfaColour : std::uint8_t { red = 0, green = 1, blue = 2, none = 3 };

// Noise of one photosite: variance = shot x + read for a signal x in parts of the range from black to white.
struct SiteNoise {
  double shot = 0, read = 0;
};

// A rectangle of the undemosaiced sensor data in the layout of the sensor (not upright), active area only.
struct Mosaic {
  cv::Mat values;  // CV_16U, as stored, black level not subtracted
  // Colour of the photosite at (row, column): cfa[(row % 2) * 2 + column % 2] for Bayer; X-Trans uses 6x6.
  int cfa_side = 2;                 // 2 or 6
  std::array<CfaColour, 36> cfa{};  // row-major, cfa_side x cfa_side, for values(0,0) at its origin
  std::array<double, 3> black{};    // per R, G, B, in stored units
  std::array<double, 3> white{};    // saturation level per R, G, B, in stored units
  std::array<double, 3> as_shot_gain{1, 1, 1};  // camera white balance, green = 1
  // R, G, B as the file states them (DNG NoiseProfile); nothing where it does not, or states nonsense.
  std::optional<std::array<SiteNoise, 3>> noise;
  int orientation = 1;                      // EXIF; to be applied by who wants it upright
  int sensor_x = 0, sensor_y = 0;           // place of values(0,0) in the active area, photosites
  int sensor_width = 0, sensor_height = 0;  // active area
  cv::Rect picture;  // what the picture shows of the active area (DNG DefaultCrop); empty: all of it
  // 0: the rows are adjacent. Else every group of cfa_side rows begins this many rows (a multiple of
  // cfa_side) below the one before.
  int row_step = 0;
  // Row of the active area that row `row` of `values` is.
  int sensor_row(int row) const {
    return sensor_y + (row_step > 0 ? row / cfa_side * row_step + row % cfa_side : row);
  }
  CfaColour colour_at(int row, int column) const {
    return cfa[static_cast<std::size_t>((row % cfa_side) * cfa_side + column % cfa_side)];
  }
};

// The photosites under `region` (upright, normalised to the picture: a DNG's DefaultCrop, else the active
// area). Reads only the rows needed where the layout allows (uncompressed 16-bit DNG, strips or tiles), else
// unpacks the whole raw with LibRaw. Errors: io, truncated, corrupt (unpacked data all one value),
// unsupported (no mosaic: not a CFA sensor, or this LibRaw can't unpack the camera), limit. Thread-safe.
Result<Mosaic> read_mosaic(const FileRef& raw, const Region& region, int orientation, const Limits& limits);

// The photosites under a region, and rows of the whole picture beside them.
struct Sensor {
  Mosaic region;
  Mosaic overview;  // see row_step; empty values where the file ends before them
};

// read_mosaic() and, from the same opened file, about 32 groups of rows spread evenly over the picture, at
// their full width: what the background and the whole scene are judged by. Errors as read_mosaic().
Result<Sensor> read_sensor(const FileRef& raw, const Region& region, int orientation, const Limits& limits);

// read_mosaic(), always by LibRaw: the slow twin that tests hold the fast way against.
Result<Mosaic> read_mosaic_by_libraw(const FileRef& raw, const Region& region, int orientation,
                                     const Limits& limits);

}  // namespace burstsieve::decode
