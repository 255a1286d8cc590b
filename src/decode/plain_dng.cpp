// Our own way to the mosaic of an uncompressed DNG (DNG 1.4 and TIFF/EP): only the rows asked for are read.
#include <algorithm>
#include <bit>
#include <cmath>

#include "burstsieve/image/buffer_pool.h"
#include "mosaic_layout.h"
#include "tiff_tags.h"

namespace burstsieve::decode {
namespace {

constexpr std::uint32_t kMaxTiles = 1u << 20;
constexpr double kMaxSide = 65535;
constexpr double kMaxOffset = 4294967295.0;  // of TIFF
// Neutral values are the sensor's answer to grey, green being about 1; the extremes seen are .2 and 1.5.
constexpr double kLeastNeutral = 1e-3, kMostNeutral = 1e3;

std::uint64_t whole_or(const TiffFile& t, const TiffDirectory& d, TiffTag tag, std::uint64_t otherwise) {
  if (!d.find(tag)) return otherwise;
  return t.whole(d, tag).value_or(~std::uint64_t{0});  // present but strange: no value it could equal
}

bool plain(const TiffFile& t, const TiffDirectory& d) {
  for (const TiffTag tag : {kLinearizationTable, kBlackLevelDeltaH, kBlackLevelDeltaV, kRowInterleaveFactor})
    if (d.find(tag)) return false;
  return whole_or(t, d, kNewSubfileType, 0) == 0 && whole_or(t, d, kPhotometric, 0) == kPhotometricCfa &&
         whole_or(t, d, kCompression, 0) == 1 && whole_or(t, d, kBitsPerSample, 0) == 16 &&
         whole_or(t, d, kSamplesPerPixel, 1) == 1 && whole_or(t, d, kFillOrder, 1) == 1 &&
         whole_or(t, d, kSampleFormat, 1) == 1 && whole_or(t, d, kCfaLayout, 1) == 1;
}

bool whole_number(double v, double least, double most) {
  return v >= least && v <= most && v == std::floor(v);
}

// True when `values` are whole numbers that make a rectangle inside `bounds`.
bool rectangle(double x, double y, double w, double h, cv::Size bounds, cv::Rect& out) {
  for (const double v : {x, y})
    if (!whole_number(v, 0, kMaxSide)) return false;
  for (const double v : {w, h})
    if (!whole_number(v, 1, kMaxSide)) return false;
  out = cv::Rect(static_cast<int>(x), static_cast<int>(y), static_cast<int>(w), static_cast<int>(h));
  return out.br().x <= bounds.width && out.br().y <= bounds.height;
}

std::optional<cv::Rect> read_crop(const TiffFile& t, const TiffDirectory& d, cv::Size active) {
  const auto origin = t.numbers(d, kDefaultCropOrigin, 2);
  const auto size = t.numbers(d, kDefaultCropSize, 2);
  cv::Rect crop;
  if (!origin || !size || origin->size() != 2 || size->size() != 2 ||
      !rectangle((*origin)[0], (*origin)[1], (*size)[0], (*size)[1], active, crop))
    return std::nullopt;
  return crop;
}

// The directory of the mosaic, when there is just one: which of several is the picture is LibRaw's to say.
const TiffDirectory* only_mosaic(const TiffFile& t) {
  if (!t.directories().front().find(kDngVersion)) return nullptr;
  const TiffDirectory* mosaic = nullptr;
  for (const TiffDirectory& d : t.directories()) {
    if (whole_or(t, d, kPhotometric, 0) != kPhotometricCfa) continue;
    if (mosaic) return nullptr;
    mosaic = &d;
  }
  return mosaic;
}

bool read_geometry(const TiffFile& t, const TiffDirectory& d, MosaicLayout& out) {
  const auto width = t.whole(d, kImageWidth);
  const auto height = t.whole(d, kImageLength);
  if (!width || !height || *width == 0 || *height == 0 || *width > 65535 || *height > 65535) return false;
  out.stored = {static_cast<int>(*width), static_cast<int>(*height)};
  out.active = {{0, 0}, out.stored};
  if (d.find(kActiveArea)) {
    const auto a = t.numbers(d, kActiveArea, 4);  // top, left, bottom, right
    if (!a || a->size() != 4) return false;
    if (!rectangle((*a)[1], (*a)[0], (*a)[3] - (*a)[1], (*a)[2] - (*a)[0], out.stored, out.active))
      return false;
  }
  // LibRaw moves a corner at an odd place and drops an odd last row or column, to keep the pattern whole.
  // Both ways must see the same frame: leave those to it.
  for (const int v : {out.active.x, out.active.y, out.active.width, out.active.height})
    if (v % 2) return false;
  out.frame = {{0, 0}, out.active.size()};
  if (const auto crop = read_crop(t, d, out.active.size())) out.frame = *crop;
  return true;
}

bool read_pattern(const TiffFile& t, const TiffDirectory& d, MosaicLayout& out) {
  const auto dim = t.numbers(d, kCfaRepeatPatternDim, 2);
  const auto pattern = t.numbers(d, kCfaPattern, 4);
  if (!dim || !pattern || pattern->size() != 4 || *dim != std::vector<double>{2, 2}) return false;
  if (d.find(kCfaPlaneColor) && t.numbers(d, kCfaPlaneColor, 3) != std::vector<double>{0, 1, 2}) return false;
  std::array<int, 3> seen{};
  for (std::size_t i = 0; i < 4; ++i) {
    if (!whole_number((*pattern)[i], 0, 2)) return false;
    out.cfa[i] = static_cast<CfaColour>(static_cast<int>((*pattern)[i]));
    ++seen[static_cast<std::size_t>((*pattern)[i])];
  }
  return seen == std::array{1, 2, 1};
}

bool read_levels(const TiffFile& t, const TiffDirectory& d, MosaicLayout& out) {
  const double white = static_cast<double>(whole_or(t, d, kWhiteLevel, 65535));
  if (!(white >= 1 && white <= 65535)) return false;
  out.white = {white, white, white};
  if (!d.find(kBlackLevel)) return true;
  std::vector<double> dim{1, 1};
  if (d.find(kBlackLevelRepeatDim)) {
    const auto given = t.numbers(d, kBlackLevelRepeatDim, 2);
    if (!given || given->size() != 2) return false;
    dim = *given;
  }
  // A pattern other than per channel wants LibRaw.
  if (dim != std::vector<double>{1, 1} && dim != std::vector<double>{2, 2}) return false;
  const auto levels = t.numbers(d, kBlackLevel, 4);
  const auto side = static_cast<std::size_t>(dim[0]);
  if (!levels || levels->size() != side * side) return false;
  for (const double level : *levels)
    if (!(level >= 0 && level <= 65535)) return false;
  std::array<double, 3> sum{};
  std::array<int, 3> count{};
  for (std::size_t y = 0; y < 2; ++y)
    for (std::size_t x = 0; x < 2; ++x) {
      const auto c = static_cast<std::size_t>(out.cfa[y * 2 + x]);
      sum[c] += (*levels)[(y % side) * side + x % side];
      ++count[c];
    }
  for (std::size_t c = 0; c < 3; ++c) out.black[c] = sum[c] / count[c];
  return true;
}

bool read_gain(const TiffFile& t, MosaicLayout& out) {
  const TiffDirectory& main = t.directories().front();
  if (main.find(kAnalogBalance)) return false;
  if (!main.find(kAsShotNeutral)) return true;
  const auto neutral = t.numbers(main, kAsShotNeutral, 3);
  if (!neutral || neutral->size() != 3) return false;
  for (std::size_t c = 0; c < 3; ++c) {
    if (!((*neutral)[c] >= kLeastNeutral && (*neutral)[c] <= kMostNeutral)) return false;
    out.gain[c] = (*neutral)[1] / (*neutral)[c];
  }
  return true;
}

bool read_tiles(const TiffFile& t, const TiffDirectory& d, PlainDng& out) {
  const bool tiled = d.find(kTileWidth) != nullptr;
  const cv::Size stored = out.layout.stored;
  const auto width = tiled ? whole_or(t, d, kTileWidth, 0) : static_cast<std::uint64_t>(stored.width);
  const auto height = tiled ? whole_or(t, d, kTileLength, 0)
                            : std::min<std::uint64_t>(whole_or(t, d, kRowsPerStrip, 65535),
                                                      static_cast<std::uint64_t>(stored.height));
  if (width == 0 || height == 0 || width > 65535 || height > 65535) return false;
  out.tile_width = static_cast<int>(width);
  out.tile_height = static_cast<int>(height);
  const auto offsets = t.numbers(d, tiled ? kTileOffsets : kStripOffsets, kMaxTiles);
  const auto sizes = t.numbers(d, tiled ? kTileByteCounts : kStripByteCounts, kMaxTiles);
  if (!offsets || !sizes) return false;
  const std::size_t across = static_cast<std::size_t>((stored.width + out.tile_width - 1) / out.tile_width);
  const std::size_t down = static_cast<std::size_t>((stored.height + out.tile_height - 1) / out.tile_height);
  if (offsets->size() != across * down || sizes->size() != across * down) return false;
  for (const auto* list : {&*offsets, &*sizes})
    for (const double v : *list)
      if (!whole_number(v, 0, kMaxOffset)) return false;
  out.offsets = *offsets;
  out.sizes = *sizes;
  return true;
}

}  // namespace

std::optional<cv::Rect> dng_frame(const TiffFile& t, cv::Size active) {
  const TiffDirectory* mosaic = only_mosaic(t);
  return mosaic ? read_crop(t, *mosaic, active) : std::nullopt;
}

std::optional<std::array<SiteNoise, 3>> dng_noise(const TiffFile& t) {
  // A deviation of half the range at full light is no photograph.
  constexpr double kMostVariance = .25;
  const TiffDirectory* mosaic = only_mosaic(t);
  if (!mosaic) return std::nullopt;
  // The specification wants it beside the mosaic; writers also put it into the main directory.
  const TiffDirectory& holder = mosaic->find(kNoiseProfile) ? *mosaic : t.directories().front();
  const auto values = t.numbers(holder, kNoiseProfile, 6);
  if (!values || (values->size() != 2 && values->size() != 6)) return std::nullopt;
  if (values->size() == 6 && mosaic->find(kCfaPlaneColor) &&
      t.numbers(*mosaic, kCfaPlaneColor, 3) != std::vector<double>{0, 1, 2})
    return std::nullopt;
  std::array<SiteNoise, 3> out;
  for (std::size_t c = 0; c < 3; ++c) {
    const std::size_t at = values->size() == 6 ? 2 * c : 0;
    out[c] = {(*values)[at], (*values)[at + 1]};
    const bool sane = out[c].shot >= 0 && out[c].read >= 0 && out[c].shot + out[c].read > 0 &&
                      out[c].shot + out[c].read <= kMostVariance;
    if (!sane) return std::nullopt;
  }
  return out;
}

std::optional<PlainDng> plain_dng(const TiffFile& t) {
  const TiffDirectory* mosaic = only_mosaic(t);
  if (!mosaic || !plain(t, *mosaic)) return std::nullopt;
  PlainDng out;
  out.order = t.order();
  if (!read_geometry(t, *mosaic, out.layout) || !read_pattern(t, *mosaic, out.layout) ||
      !read_levels(t, *mosaic, out.layout) || !read_gain(t, out.layout) || !read_tiles(t, *mosaic, out))
    return std::nullopt;
  out.layout.noise = dng_noise(t);
  return out;
}

Result<cv::Mat> PlainDng::read(const SourceFile& file, const cv::Rect& where) const {
  // Before memory is taken: a directory of 1 KB can claim any size.
  if (2 * static_cast<std::uint64_t>(where.width) * static_cast<std::uint64_t>(where.height) > file.size())
    return Error{Cause::truncated, file.path(), "the file ends before its data"};
  cv::Mat out = image::pooled(where.height, where.width, CV_16UC1);
  const int across = (layout.stored.width + tile_width - 1) / tile_width;
  for (int y = where.y; y < where.br().y; ++y) {
    auto* row = out.ptr<std::uint16_t>(y - where.y);
    for (int x = where.x; x < where.br().x;) {
      const auto tile = static_cast<std::size_t>(y / tile_height * across + x / tile_width);
      const int in_x = x % tile_width;
      const int count = std::min(tile_width - in_x, where.br().x - x);
      const std::uint64_t at =
          2 * (static_cast<std::uint64_t>(y % tile_height) * static_cast<std::uint64_t>(tile_width) +
               static_cast<std::uint64_t>(in_x));
      const std::uint64_t bytes = 2 * static_cast<std::uint64_t>(count);
      if (at + bytes > static_cast<std::uint64_t>(sizes[tile]))
        return Error{Cause::corrupt, file.path(), "a strip is shorter than its rows"};
      auto* to = reinterpret_cast<std::uint8_t*>(row + (x - where.x));
      if (auto got = file.read(static_cast<std::uint64_t>(offsets[tile]) + at, {to, bytes}); !got)
        return got.error();
      x += count;
    }
    const bool swap = (order == ByteOrder::big) != (std::endian::native == std::endian::big);
    if (swap)
      for (int i = 0; i < where.width; ++i) row[i] = static_cast<std::uint16_t>(row[i] << 8 | row[i] >> 8);
  }
  return out;
}

}  // namespace burstsieve::decode
