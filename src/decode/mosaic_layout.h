// What both ways to the mosaic, our own and LibRaw's, must agree on.
#pragma once
#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "burstsieve/decode/mosaic.h"
#include "raw_file.h"
#include "source_file.h"
#include "tiff.h"

namespace burstsieve::decode {

struct MosaicLayout {
  cv::Size stored;  // photosites in the file, masked border included
  cv::Rect active;  // in `stored`
  cv::Rect frame;   // what the picture shows, in `active`; all of it where the file says no more
  int cfa_side = 2;
  std::array<CfaColour, 36> cfa{};  // for the corner of `active`
  std::array<double, 3> black{}, white{}, gain{1, 1, 1};
  std::optional<std::array<SiteNoise, 3>> noise;

  CfaColour colour_at(int row, int column) const {  // in `active`
    return cfa[static_cast<std::size_t>((row % cfa_side) * cfa_side + column % cfa_side)];
  }
  // The photosites under an upright region of the picture, in `active`; empty when there are none.
  cv::Rect under(const Region& region, int orientation) const;
  // A Mosaic of `where` (in `active`) but for its values.
  Mosaic mosaic(const cv::Rect& where, int orientation) const;
};

// Uncompressed 16-bit mosaic in a DNG.
struct PlainDng {
  MosaicLayout layout;
  ByteOrder order = ByteOrder::little;
  int tile_width = 0, tile_height = 0;  // strips: the whole width, rows per strip
  std::vector<double> offsets, sizes;   // of the tiles, row by row

  // Reads `where` (in layout.stored). Errors: io, truncated.
  Result<cv::Mat> read(const SourceFile& file, const cv::Rect& where) const;
};

// Nothing: compressed, another depth or pattern, a linearisation table, or anything else that wants LibRaw.
std::optional<PlainDng> plain_dng(const TiffFile& tiff);

// What the picture shows of the only mosaic in a DNG, in its active area. Nothing: not stated, or not inside
// it. (LibRaw 0.20 does not pass it on.)
std::optional<cv::Rect> dng_frame(const TiffFile& tiff, cv::Size active);

// NoiseProfile of the only mosaic in a DNG: one pair for all planes, or one each for red, green and blue.
// Nothing: absent, another count, planes in another order, not finite, negative, or all noise.
std::optional<std::array<SiteNoise, 3>> dng_noise(const TiffFile& tiff);

// Of an unpacked raw; `frame` is left at the whole active area. unsupported: not a 2x2 or 6x6 mosaic of red,
// green and blue.
Result<MosaicLayout> libraw_layout(const RawFile& raw);

}  // namespace burstsieve::decode
