#include "raw_file.h"

#include <dlfcn.h>
#include <fmt/format.h>

#include <algorithm>
#include <new>

#include "burstsieve/image/buffer_pool.h"

namespace burstsieve::decode {

struct RawFile::Watch {
  Deadline deadline;
  int data_errors = 0;
  bool past_end = false;
};

void RawFile::Deleter::operator()(Watch* watch) const {
  delete watch;
}

RawFile::RawFile() : raw_(std::make_unique<LibRaw>()) {}

namespace {

// LibRaw starts one OpenMP thread per core and more, inside every one of ours. The setting is the calling
// thread's own, and there is no OpenMP of ours to link: take the function from where LibRaw brought it.
void one_openmp_thread() {
  using Set = void (*)(int);
  static const auto set = reinterpret_cast<Set>(dlsym(RTLD_DEFAULT, "omp_set_num_threads"));
  thread_local bool done = false;
  if (!done && set) set(1);
  done = true;
}

// True when every value of the visible area is the same: not a photograph. Only where it lies on the sensor:
// damaged margins reach beyond, and the visible area of a diagonal grid is counted along its diagonals.
bool one_value(const libraw_data_t& d) {
  const auto& s = d.sizes;
  if (s.top_margin >= s.raw_height || s.left_margin >= s.raw_width) return true;
  const std::size_t height = std::min<std::size_t>(s.height, s.raw_height - s.top_margin);
  const std::size_t width = std::min<std::size_t>(s.width, s.raw_width - s.left_margin);
  const std::size_t pitch = s.raw_pitch / sizeof(ushort);
  const ushort* first = d.rawdata.raw_image + s.top_margin * pitch + s.left_margin;
  for (std::size_t y = 0; y < height; ++y) {
    const ushort* row = first + y * pitch;
    if (!std::all_of(row, row + width, [&](ushort v) { return v == *first; })) return false;
  }
  return true;
}

}  // namespace

Status RawFile::status(int code, const char* doing) const {
  if (code == LIBRAW_SUCCESS && watch_->data_errors == 0) return Done{};
  const auto fail = [&](Cause cause) {
    const char* word = code == LIBRAW_SUCCESS ? "damaged data" : libraw_strerror(code);
    return Error{cause, path_, fmt::format("{}: {}", doing, word)};
  };
  switch (code) {
    case LIBRAW_SUCCESS:
      return fail(watch_->past_end ? Cause::truncated : Cause::corrupt);
    case LIBRAW_IO_ERROR:  // the file is open: it is bytes that are missing
      return fail(Cause::truncated);
    case LIBRAW_FILE_UNSUPPORTED:
    case LIBRAW_NOT_IMPLEMENTED:
    case LIBRAW_NO_THUMBNAIL:
    case LIBRAW_UNSUPPORTED_THUMBNAIL:
    case LIBRAW_REQUEST_FOR_NONEXISTENT_IMAGE:
      return fail(Cause::unsupported);
    case LIBRAW_CANCELLED_BY_CALLBACK:
      return Error{Cause::limit, path_, "decoding takes too long"};
    case LIBRAW_UNSUFFICIENT_MEMORY:
      return fail(Cause::memory);
    case LIBRAW_TOO_BIG:
    case LIBRAW_MEMPOOL_OVERFLOW:
      return fail(Cause::limit);
    default:
      return fail(Cause::corrupt);
  }
}

Result<RawFile> RawFile::open(const std::string& path, const Limits& limits, const Deadline& deadline) try {
  one_openmp_thread();
  RawFile file;
  file.path_ = path;
  file.watch_.reset(new Watch{deadline});
  file.raw_->set_dataerror_handler(
      [](void* watch, const char*, int offset) {
        ++static_cast<Watch*>(watch)->data_errors;
        if (offset < 0) static_cast<Watch*>(watch)->past_end = true;  // LibRaw's word for the end of the file
      },
      file.watch_.get());
  file.raw_->set_progress_handler(
      [](void* watch, LibRaw_progress, int, int) {
        return static_cast<const Watch*>(watch)->deadline.passed() ? 1 : 0;
      },
      file.watch_.get());
  file.stream_ = std::make_unique<RawStream>(path, deadline);
  const int code = file.raw_->open_datastream(file.stream_.get());
  if (auto opened = file.status(code, "opening the raw"); !opened) return opened.error();
  file.stream_->headers_done();
  const auto& sizes = file.data().sizes;
  const std::uint64_t pixels = std::uint64_t{sizes.raw_width} * sizes.raw_height;
  if (pixels > limits.max_pixels || std::max(sizes.raw_width, sizes.raw_height) > limits.max_side)
    return Error{Cause::limit, path,
                 fmt::format("{} x {} photosites are too many", sizes.raw_width, sizes.raw_height)};
  return file;
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, path, "not enough memory"};
} catch (...) {  // LibRaw throws bare enumerators where it forgot to catch them
  return Error{Cause::corrupt, path, "opening the raw failed"};
}

Status RawFile::load_preview() try {
  return status(raw_->unpack_thumb(), "reading the embedded preview");
} catch (...) {
  return Error{Cause::corrupt, path_, "reading the embedded preview failed"};
}

Status RawFile::load_sensor() try {
  one_openmp_thread();
  watch_->data_errors = 0;
  stream_->before_data([raw = raw_.get()] {
    const auto& d = raw->imgdata;
    if (d.rawdata.raw_image)
      std::fill_n(d.rawdata.raw_image, std::size_t{d.sizes.raw_width} * d.sizes.raw_height, ushort{0});
  });
  if (auto done = status(raw_->unpack(), "unpacking the raw"); !done) return done;
  if (data().rawdata.raw_image && one_value(data()))
    return Error{Cause::corrupt, path_, "the sensor values are all the same"};
  return Done{};
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, path_, "not enough memory"};
} catch (...) {
  return Error{Cause::corrupt, path_, "unpacking the raw failed"};
}

Result<cv::Mat> RawFile::render_half() try {
  auto& p = raw_->imgdata.params;
  p.half_size = 1;
  p.use_camera_wb = 1;
  p.no_auto_bright = 1;  // frames of one burst must stay comparable
  p.output_bps = 8;
  p.output_color = 1;   // sRGB
  p.gamm[0] = 1 / 2.4;  // with its curve, IEC 61966-2-1
  p.gamm[1] = 12.92;
  p.user_flip = 0;
  if (auto loaded = load_sensor(); !loaded) return loaded.error();
  if (auto done = status(raw_->dcraw_process(), "rendering the raw"); !done) return done.error();
  int width = 0;
  int height = 0;
  int colours = 0;
  int bits = 0;
  raw_->get_mem_image_format(&width, &height, &colours, &bits);
  if (width <= 0 || height <= 0 || bits != 8 || (colours != 3 && colours != 1))
    return Error{Cause::unsupported, path_, "rendering the raw: neither grey nor three colours"};
  cv::Mat out = image::pooled(height, width, CV_8UC(colours));
  if (auto copied =
          status(raw_->copy_mem_image(out.data, static_cast<int>(out.step), 0), "rendering the raw");
      !copied)
    return copied.error();
  if (colours == 3) return out;
  cv::Mat rgb = image::pooled(height, width, CV_8UC3);
  const cv::Mat same[3] = {out, out, out};
  cv::merge(same, 3, rgb);
  return rgb;
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, path_, "not enough memory"};
} catch (...) {
  return Error{Cause::corrupt, path_, "rendering the raw failed"};
}

}  // namespace burstsieve::decode
