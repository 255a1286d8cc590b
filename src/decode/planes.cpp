// decode_planes: from a file to its planes, by the cheapest way that shows the whole frame.
#include <algorithm>
#include <optional>

#include "burstsieve/decode/pixels.h"
#include "deadline.h"
#include "jpeg.h"
#include "preview.h"
#include "raw_file.h"
#include "source_file.h"
#include "tiff.h"

namespace burstsieve::decode {
namespace {

// A preview below this long side shows too little of a bird to judge it, when the sensor has kTinyRatio times
// more: then half-size rendering is worth its .3 s. Cameras embed 160 (EXIF), 570..640, 1024..1620 or
// full-size pictures.
constexpr int kTinySide = 800;
constexpr double kTinyRatio = 4;
// A full-size preview is the sensor less a border of interpolation: up to 3 % smaller, not reduced.
constexpr double kBorder = 1.03;

constexpr std::uint16_t kImageWidth = 256;
constexpr std::uint16_t kImageLength = 257;

Error named(Error error, const FileRef& file) {
  if (error.file.empty()) error.file = file.path;
  return error;
}

Result<Planes> decode_part(const SourceFile& file, std::uint64_t offset, std::uint64_t size,
                           const Limits& limits, const Deadline& deadline) {
  const auto bytes = PooledBytes::read(file, offset, size);
  if (!bytes) return bytes.error();
  return decode_jpeg(bytes->view(), limits, deadline);
}

// How many sensor pixels one pixel of the preview stands for. A preview may show less than the sensor along
// one side (16:9 out of 3:2): the other side tells.
double reduction(cv::Size sensor, cv::Size preview) {
  if (sensor.empty() || preview.empty()) return 1;
  const double wide =
      static_cast<double>(std::max(sensor.width, sensor.height)) / std::max(preview.width, preview.height);
  const double narrow =
      static_cast<double>(std::min(sensor.width, sensor.height)) / std::min(preview.width, preview.height);
  const double r = std::min(wide, narrow);
  return r < kBorder ? 1 : r;
}

// True when the preview was turned by the camera: its long side runs across the sensor's.
bool already_upright(cv::Size sensor, cv::Size preview, int orientation) {
  return swaps_sides(orientation) && sensor.width > sensor.height && preview.width < preview.height;
}

// The largest picture any directory states: the sensor, where LibRaw can't say.
cv::Size largest_stated(const TiffFile& tiff) {
  cv::Size best;
  std::uint64_t most = 0;
  for (const TiffDirectory& dir : tiff.directories()) {
    const auto w = tiff.whole(dir, kImageWidth);
    const auto h = tiff.whole(dir, kImageLength);
    if (!w || !h || *w > 65535 || *h > 65535) continue;
    if (*w * *h <= most) continue;
    most = *w * *h;
    best = {static_cast<int>(*w), static_cast<int>(*h)};
  }
  return best;
}

// LibRaw's own preview, when it has more pixels than `than`.
std::optional<Result<Planes>> libraw_preview(RawFile& raw, std::uint64_t than, const Limits& limits,
                                             const Deadline& deadline) {
  const cv::Size stated = raw.preview_size();
  const auto area = [](int w, int h) {
    return static_cast<std::uint64_t>(w) * static_cast<std::uint64_t>(h);
  };
  if (!stated.empty() && area(stated.width, stated.height) <= than) return std::nullopt;
  if (auto loaded = raw.load_preview(); !loaded) return std::nullopt;
  const auto& t = raw.data().thumbnail;
  if (!t.thumb) return std::nullopt;
  if (t.tformat == LIBRAW_THUMBNAIL_JPEG) {
    const Bytes bytes(reinterpret_cast<const std::uint8_t*>(t.thumb), t.tlength);
    const auto found = preview_at_start(bytes);
    if (!found || found->pixels() <= than) return std::nullopt;
    return decode_jpeg(bytes, limits, deadline);
  }
  if (t.tformat != LIBRAW_THUMBNAIL_BITMAP || t.tcolors != 3 || area(t.twidth, t.theight) <= than ||
      area(t.twidth, t.theight) * 3 > t.tlength)
    return std::nullopt;
  return planes_of_rgb(cv::Mat(t.theight, t.twidth, CV_8UC3, t.thumb));
}

bool tiny(const Planes& p, cv::Size sensor) {
  return std::max(p.luma.cols, p.luma.rows) < kTinySide && reduction(sensor, p.luma.size()) >= kTinyRatio;
}

// What a container unknown to LibRaw and to the directory walk holds.
Result<Planes> scan_for_preview(const SourceFile& file, const Limits& limits, const Deadline& deadline) {
  const auto bytes = PooledBytes::read(file, 0, file.size());
  if (!bytes) return bytes.error();
  const auto found = largest_preview(bytes->view());
  if (!found) return Error{Cause::unsupported, file.path(), "no preview in it, and LibRaw can't read it"};
  return decode_jpeg(bytes->view().subspan(static_cast<std::size_t>(found->offset)), limits, deadline);
}

Result<Planes> decode_raw(const SourceFile& file, int orientation, const Limits& limits) {
  const Deadline deadline(limits);
  const auto tiff = TiffFile::open(file);
  auto raw = RawFile::open(file.path(), limits, deadline);
  if (!raw && raw.error().cause == Cause::limit) return raw.error();
  const cv::Size sensor = raw ? raw->visible() : tiff ? largest_stated(*tiff) : cv::Size();

  std::optional<Result<Planes>> best;
  const auto good = [&] { return best && *best; };
  const auto own = tiff ? largest_preview(file, *tiff) : std::nullopt;
  if (raw) best = libraw_preview(*raw, own ? own->pixels() : 0, limits, deadline);
  if (!good() && own) best = decode_part(file, own->offset, own->size, limits, deadline);
  if (raw && (!good() || tiny(**best, sensor))) {
    auto rendered = raw->render_half();
    if (rendered)
      best = planes_of_rgb(*rendered);
    else if (!best)
      best = rendered.error();
  } else if (!raw && (!good() || std::max((*best)->luma.cols, (*best)->luma.rows) < kTinySide)) {
    auto scanned = scan_for_preview(file, limits, deadline);
    const bool better = scanned && (!good() || scanned->luma.total() > (*best)->luma.total());
    if (better || !best) best = std::move(scanned);
    // A file still being copied looks like an unknown one; its directory, or LibRaw, tells.
    if (!*best && (*best).error().cause == Cause::unsupported) {
      if (!tiff && tiff.error().cause == Cause::truncated) best = tiff.error();
      if (raw.error().cause == Cause::truncated) best = raw.error();
    }
  }
  if (!*best) return (*best).error();

  Planes out = *std::move(*best);
  out.source = "embedded preview";
  out.full_per_pixel = reduction(sensor, out.luma.size());
  out.orientation = already_upright(sensor, out.luma.size(), orientation) ? 1 : orientation;
  return out;
}

}  // namespace

Result<Planes> decode_planes(const FileRef& file, int orientation, const Limits& limits) try {
  const auto source = SourceFile::open(file.path, limits);
  if (!source) return source.error();
  if (source->size() == 0) return Error{Cause::truncated, file.path, "the file is empty"};
  if (file.kind == FileKind::raw) {
    auto planes = decode_raw(*source, orientation, limits);
    if (!planes) return named(planes.error(), file);
    return planes;
  }
  auto planes = decode_part(*source, 0, source->size(), limits, Deadline(limits));
  if (!planes) return named(planes.error(), file);
  planes->orientation = orientation;
  planes->source = "jpeg";
  return planes;
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, file.path, "not enough memory"};
} catch (const cv::Exception&) {
  return Error{Cause::memory, file.path, "not enough memory"};
}

}  // namespace burstsieve::decode
