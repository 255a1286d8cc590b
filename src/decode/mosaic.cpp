#include "burstsieve/decode/mosaic.h"

#include <algorithm>
#include <new>
#include <utility>

#include "burstsieve/image/buffer_pool.h"
#include "deadline.h"
#include "mosaic_layout.h"

namespace burstsieve::decode {
namespace {

constexpr int kSampledRows = 64;
// 64 rows of Bayer: 96,000 blocks of a 24 MP sensor, a millisecond to read.
constexpr int kOverviewGroups = 32;

bool one_value(const cv::Mat& values) {
  double least = 0;
  double most = 0;
  cv::minMaxLoc(values, &least, &most);
  return least == most;
}

// True when rows spread over the whole sensor hold nothing but the value that fills the region. A region of
// clipped white is a finding; a sensor full of one value is damage.
Result<bool> blank(const SourceFile& file, const PlainDng& dng, const cv::Mat& region) {
  if (!one_value(region)) return false;
  const auto value = region.at<std::uint16_t>(0, 0);
  const cv::Rect& active = dng.layout.active;
  for (int i = 0; i < kSampledRows; ++i) {
    const int y = active.y + static_cast<int>(static_cast<std::int64_t>(i) * active.height / kSampledRows);
    const auto row = dng.read(file, {active.x, y, active.width, 1});
    if (!row) return row.error();
    if (!one_value(*row) || row->at<std::uint16_t>(0, 0) != value) return false;
  }
  return true;
}

Error not_there(const std::string& path) {
  return {Cause::unsupported, path, "the region holds no photosite"};
}

// Where the overview's groups of rows lie: the values of a mosaic of `frame` but for its pixels.
Mosaic overview_of(const MosaicLayout& layout, int orientation) {
  const int side = layout.cfa_side;
  const cv::Rect& frame = layout.frame;
  Mosaic out = layout.mosaic(frame, orientation);
  out.row_step = std::max(1, frame.height / kOverviewGroups / side) * side;
  const int groups = frame.height >= side ? (frame.height - side) / out.row_step + 1 : 0;
  if (groups > 0 && frame.width > 0) out.values = image::pooled(groups * side, frame.width, CV_16UC1);
  return out;
}

// A file that ends before its last rows still answers for the subject: no overview then.
Mosaic read_overview(const SourceFile& file, const PlainDng& dng, int orientation) {
  Mosaic out = overview_of(dng.layout, orientation);
  for (int row = 0; row < out.values.rows; row += out.cfa_side) {
    const cv::Rect where(out.sensor_x, out.sensor_row(row), out.values.cols, out.cfa_side);
    const auto rows = dng.read(file, where + dng.layout.active.tl());
    if (!rows) {
      out.values.release();
      return out;
    }
    rows->copyTo(out.values.rowRange(row, row + out.cfa_side));
  }
  return out;
}

Result<Sensor> from_plain_dng(const SourceFile& file, const PlainDng& dng, const Region& region,
                              int orientation, const Limits& limits, bool overview) {
  const auto& stored = dng.layout.stored;
  if (static_cast<std::uint64_t>(stored.width) * static_cast<std::uint64_t>(stored.height) >
      limits.max_pixels)
    return Error{Cause::limit, file.path(), "too many photosites"};
  const cv::Rect where = dng.layout.under(region, orientation);
  if (where.empty()) return not_there(file.path());
  auto values = dng.read(file, where + dng.layout.active.tl());
  if (!values) return values.error();
  const auto is_blank = blank(file, dng, *values);
  if (!is_blank) return is_blank.error();
  if (*is_blank) return Error{Cause::corrupt, file.path(), "the sensor values are all the same"};
  Sensor out{dng.layout.mosaic(where, orientation), {}};
  out.region.values = *values;
  if (overview) out.overview = read_overview(file, dng, orientation);
  return out;
}

Result<Sensor> from_libraw(const SourceFile& file, const Region& region, int orientation,
                           const Limits& limits, bool overview) {
  const std::string& path = file.path();
  auto raw = RawFile::open(path, limits, Deadline(limits));
  if (!raw) return raw.error();
  if (auto loaded = raw->load_sensor(); !loaded) return loaded.error();
  auto layout = libraw_layout(*raw);
  if (!layout) return Error{layout.error().cause, path, layout.error().text};
  if (raw->data().idata.dng_version)
    if (const auto tiff = TiffFile::open(file)) {
      if (const auto frame = dng_frame(*tiff, layout->active.size())) layout->frame = *frame;
      layout->noise = dng_noise(*tiff);
    }
  const cv::Rect where = layout->under(region, orientation);
  if (where.empty()) return not_there(path);
  const auto& d = raw->data();
  const cv::Mat whole(layout->stored, CV_16UC1, d.rawdata.raw_image, d.sizes.raw_pitch);
  Sensor out{layout->mosaic(where, orientation), {}};
  out.region.values = image::pooled(where.height, where.width, CV_16UC1);
  whole(where + layout->active.tl()).copyTo(out.region.values);
  if (!overview) return out;
  Mosaic& o = out.overview = overview_of(*layout, orientation);
  for (int row = 0; row < o.values.rows; row += o.cfa_side) {
    const cv::Rect from(o.sensor_x, o.sensor_row(row), o.values.cols, o.cfa_side);
    whole(from + layout->active.tl()).copyTo(o.values.rowRange(row, row + o.cfa_side));
  }
  return out;
}

Result<Sensor> read(const FileRef& raw, const Region& region, int orientation, const Limits& limits,
                    bool overview) try {
  const auto file = SourceFile::open(raw.path, limits);
  if (!file) return file.error();
  if (file->size() == 0) return Error{Cause::truncated, raw.path, "the file is empty"};
  const auto tiff = TiffFile::open(*file);
  if (tiff)
    if (const auto dng = plain_dng(*tiff))
      return from_plain_dng(*file, *dng, region, orientation, limits, overview);
  auto out = from_libraw(*file, region, orientation, limits, overview);
  // A file still being copied looks to LibRaw like an unknown one.
  if (!out && out.error().cause == Cause::unsupported && !tiff && tiff.error().cause == Cause::truncated)
    return tiff.error();
  return out;
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, raw.path, "not enough memory"};
} catch (const cv::Exception&) {
  return Error{Cause::memory, raw.path, "not enough memory"};
}

}  // namespace

Result<Mosaic> read_mosaic(const FileRef& raw, const Region& region, int orientation, const Limits& limits) {
  auto out = read(raw, region, orientation, limits, false);
  if (!out) return out.error();
  return std::move(out->region);
}

Result<Sensor> read_sensor(const FileRef& raw, const Region& region, int orientation, const Limits& limits) {
  return read(raw, region, orientation, limits, true);
}

Result<Mosaic> read_mosaic_by_libraw(const FileRef& raw, const Region& region, int orientation,
                                     const Limits& limits) try {
  const auto file = SourceFile::open(raw.path, limits);
  if (!file) return file.error();
  auto out = from_libraw(*file, region, orientation, limits, false);
  if (!out) return out.error();
  return std::move(out->region);
} catch (const std::exception&) {
  return Error{Cause::memory, raw.path, "not enough memory"};
}

}  // namespace burstsieve::decode
