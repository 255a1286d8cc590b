#include "jpeg.h"

// jpeglib.h needs FILE and size_t declared before it.
#include <cstddef>
#include <cstdio>
//
#include <fmt/format.h>
#include <jerror.h>
#include <jpeglib.h>

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdlib>
#include <new>

#include "burstsieve/image/buffer_pool.h"
#include "burstsieve/image/downscale.h"
#include "drift.h"

namespace burstsieve::decode {
namespace {

constexpr int kBlock = DCTSIZE;
constexpr int kMaxRows = MAX_SAMP_FACTOR * kBlock;  // rows of one component in one MCU row
constexpr std::uint8_t kGrey = 128;
// No Huffman-coded JPEG holds more: a 64-pixel block costs at least one bit.
constexpr std::uint64_t kMaxPixelsPerByte = 8 * kBlock * kBlock;

// How libjpeg speaks to us. It must not return from an error, so it jumps back to the step that called it;
// nothing between the two has a destructor.
struct Trap {
  jpeg_error_mgr manager;  // first: libjpeg hands out a pointer to it
  std::jmp_buf jump;
  int fatal;                         // message code, 0 while well
  char text[JMSG_LENGTH_MAX];        // of the fatal error
  long warnings;                     // that speak of damage
  bool ended_early;                  // ran out of bytes
  bool in_header;                    // before the first scan
  JDIMENSION first_bad_row;          // output row at the first warning
  const jpeg_decompress_struct* of;  // null while encoding
};

[[noreturn]] void on_error(j_common_ptr info) {
  auto* trap = reinterpret_cast<Trap*>(info->err);
  trap->fatal = info->err->msg_code;
  info->err->format_message(info, trap->text);
  std::longjmp(trap->jump, 1);
}

void on_message(j_common_ptr info, int level) {
  if (level >= 0) return;
  auto* trap = reinterpret_cast<Trap*>(info->err);
  const int code = info->err->msg_code;
  // A newer JFIF revision and padding between header segments harm no pixel.
  if (code == JWRN_JFIF_MAJOR || (code == JWRN_EXTRANEOUS_DATA && trap->in_header)) return;
  if (trap->warnings++ == 0 && trap->of) trap->first_bad_row = trap->of->output_scanline;
  if (code == JWRN_JPEG_EOF) trap->ended_early = true;
}

void silent(j_common_ptr) {}

void set_trap(Trap& trap) {
  jpeg_std_error(&trap.manager);
  trap.manager.error_exit = on_error;
  trap.manager.emit_message = on_message;
  trap.manager.output_message = silent;
  trap.in_header = true;
}

// Runs `step`, whose libjpeg calls may jump; false when one did. `step` must own nothing.
template <class Step>
bool guarded(Trap& trap, const Step& step) {
  if (setjmp(trap.jump) != 0) return false;
  step();
  return true;
}

enum class Stop { none, time, scans };

struct Watch {
  jpeg_progress_mgr manager;  // first
  const Deadline* deadline;
  int max_scans;
  Stop stop;
};

// libjpeg calls this once per MCU row of every scan.
void on_progress(j_common_ptr info) {
  auto* watch = reinterpret_cast<Watch*>(info->progress);
  const auto* decompress = reinterpret_cast<const jpeg_decompress_struct*>(info);
  if (decompress->input_scan_number > watch->max_scans)
    watch->stop = Stop::scans;
  else if (watch->deadline->passed())
    watch->stop = Stop::time;
  if (watch->stop == Stop::none) return;
  info->err->msg_code = JERR_CANT_SUSPEND;  // any: the stop says why
  info->err->error_exit(info);
}

struct Session {
  jpeg_decompress_struct info{};
  Trap trap{};
  Watch watch{};

  Session(const Limits& limits, const Deadline& deadline) {
    set_trap(trap);
    trap.of = &info;
    info.err = &trap.manager;
    watch.manager.progress_monitor = on_progress;
    watch.deadline = &deadline;
    watch.max_scans = limits.max_jpeg_scans;
  }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;
  ~Session() { jpeg_destroy_decompress(&info); }
};

Error failure(const Session& s) {
  if (s.watch.stop == Stop::time) return {Cause::limit, {}, "decoding takes too long"};
  if (s.watch.stop == Stop::scans) return {Cause::limit, {}, "too many scans in a progressive JPEG"};
  switch (s.trap.fatal) {
    case JERR_INPUT_EMPTY:
    case JERR_INPUT_EOF:
      return {Cause::truncated, {}, "no image data"};
    case JERR_OUT_OF_MEMORY:
      return {Cause::memory, {}, s.trap.text};
    case JERR_IMAGE_TOO_BIG:
      return {Cause::limit, {}, s.trap.text};
    case JERR_BAD_PRECISION:
    case JERR_SOF_UNSUPPORTED:
    case JERR_ARITH_NOTIMPL:
    case JERR_CONVERSION_NOTIMPL:
    case JERR_FRACT_SAMPLE_NOTIMPL:
    case JERR_CCIR601_NOTIMPL:
    case JERR_COMPONENT_COUNT:
      return {Cause::unsupported, {}, s.trap.text};
    default:
      break;
  }
  if (s.trap.ended_early) return {Cause::truncated, {}, "the data ends before the image"};
  return {Cause::corrupt, {}, s.trap.text};
}

Status check_header(const jpeg_decompress_struct& info, std::size_t bytes, const Limits& limits) {
  const std::uint64_t w = info.image_width;
  const std::uint64_t h = info.image_height;
  if (w > limits.max_side || h > limits.max_side || w * h > limits.max_pixels)
    return Error{Cause::limit, {}, fmt::format("{} x {} pixels are too many", w, h)};
  if (w * h > bytes * kMaxPixelsPerByte)
    return Error{Cause::truncated, {}, fmt::format("{} x {} pixels can't be in {} bytes", w, h, bytes)};
  switch (info.jpeg_color_space) {
    case JCS_GRAYSCALE:
    case JCS_YCbCr:
    case JCS_RGB:
      return Done{};
    case JCS_CMYK:
    case JCS_YCCK:
      return Error{Cause::unsupported, {}, "a CMYK JPEG"};
    default:
      return Error{Cause::unsupported, {}, fmt::format("a JPEG of {} components", info.num_components)};
  }
}

// True when the stored planes are what Planes wants: full luma, both chroma alike and 1, 2 or 4 times
// smaller.
bool stored_as_wanted(const jpeg_decompress_struct& info) {
  if (info.jpeg_color_space == JCS_GRAYSCALE) return true;
  if (info.jpeg_color_space != JCS_YCbCr) return false;
  const jpeg_component_info* c = info.comp_info;
  const auto fits = [](int most, int part) { return most % part == 0 && kBlock % (most / part) == 0; };
  return c[0].h_samp_factor == info.max_h_samp_factor && c[0].v_samp_factor == info.max_v_samp_factor &&
         c[1].h_samp_factor == c[2].h_samp_factor && c[1].v_samp_factor == c[2].v_samp_factor &&
         fits(info.max_h_samp_factor, c[1].h_samp_factor) && fits(info.max_v_samp_factor, c[1].v_samp_factor);
}

// One component on its way from libjpeg to a plane.
struct Target {
  cv::Mat padded;  // whole blocks, as libjpeg writes them
  cv::Mat plane;   // the picture in it
  cv::Mat small;   // its 1/8 image
  int rows_per_pass = 0;
  int block_w = kBlock, block_h = kBlock;
};

// 8 rows are written at a time: a row step of whole pages would put them all in one set of the cache.
int padded_width(int width) {
  const int step = (width + 63) / 64 * 64;
  return step % 4096 == 0 ? step + 64 : step;
}

Target target_for(const jpeg_decompress_struct& info, int index) {
  const jpeg_component_info& c = info.comp_info[index];
  Target t;
  t.rows_per_pass = c.v_samp_factor * kBlock;
  const int passes = (static_cast<int>(info.image_height) + info.max_v_samp_factor * kBlock - 1) /
                     (info.max_v_samp_factor * kBlock);
  t.padded = image::pooled(passes * t.rows_per_pass,
                           padded_width(static_cast<int>(c.width_in_blocks) * kBlock), CV_8UC1);
  t.plane =
      t.padded(cv::Rect(0, 0, static_cast<int>(c.downsampled_width), static_cast<int>(c.downsampled_height)));
  t.block_w = kBlock * c.h_samp_factor / info.max_h_samp_factor;
  t.block_h = kBlock * c.v_samp_factor / info.max_v_samp_factor;
  t.small = image::pooled((t.plane.rows + t.block_h - 1) / t.block_h,
                          (t.plane.cols + t.block_w - 1) / t.block_w, CV_8UC1);
  return t;
}

// The 1/8 rows under plane rows [from, to); `from` lies on a block boundary.
void average(Target& t, int from, int to) {
  for (int y = from; y < std::min(to, t.plane.rows); y += t.block_h)
    image::block_mean_row(t.plane.ptr(y), t.plane.step, t.plane.cols, std::min(t.block_h, t.plane.rows - y),
                          t.block_w, t.small.ptr(y / t.block_h));
}

using Targets = std::array<Target, 3>;

// Reads one MCU row into the planes and averages it.
void read_pass(jpeg_decompress_struct& info, Targets& targets, int pass) {
  JSAMPROW rows[3][kMaxRows];
  JSAMPARRAY planes[3] = {rows[0], rows[1], rows[2]};
  for (int c = 0; c < info.num_components; ++c) {
    Target& t = targets[static_cast<std::size_t>(c)];
    for (int y = 0; y < t.rows_per_pass; ++y) rows[c][y] = t.padded.ptr(pass * t.rows_per_pass + y);
  }
  jpeg_read_raw_data(&info, planes, static_cast<JDIMENSION>(info.max_v_samp_factor * kBlock));
  for (int c = 0; c < info.num_components; ++c) {
    Target& t = targets[static_cast<std::size_t>(c)];
    average(t, pass * t.rows_per_pass, (pass + 1) * t.rows_per_pass);
  }
}

void fill_missing(Targets& targets, int components, int pass) {
  for (int c = 0; c < components; ++c) {
    Target& t = targets[static_cast<std::size_t>(c)];
    const int from = pass * t.rows_per_pass;
    if (from >= t.plane.rows) continue;
    t.plane.rowRange(from, t.plane.rows).setTo(cv::Scalar(kGrey));
    average(t, from, t.plane.rows);
  }
}

std::string damage_of(const Session& s, int height) {
  const auto& trap = s.trap;
  if (trap.fatal == 0 && trap.warnings == 0) return {};
  std::string text;
  if (trap.ended_early)
    text = "data ends early";
  else if (trap.warnings > 0)
    text = fmt::format("corrupt data: {} warning{}", trap.warnings, trap.warnings == 1 ? "" : "s");
  else
    text = fmt::format("corrupt data: {}", trap.text);
  if (s.info.input_scan_number <= 1 && trap.first_bad_row > 0 &&
      static_cast<int>(trap.first_bad_row) < height)
    text += fmt::format(", from row {} of {}", trap.first_bad_row, height);
  return text;
}

// A scan of one component has single blocks for units (T.81 §A.2.2).
cv::Size unit_of(const jpeg_decompress_struct& info, int index) {
  const jpeg_component_info& c = info.comp_info[index];
  if (info.num_components == 1) return {kBlock, kBlock};
  return {c.h_samp_factor * kBlock, c.v_samp_factor * kBlock};
}

bool any_table_torn(const jpeg_decompress_struct& info) {
  for (int c = 0; c < info.num_components; ++c) {
    const JQUANT_TBL* t = info.quant_tbl_ptrs[info.comp_info[c].quant_tbl_no & (NUM_QUANT_TBLS - 1)];
    if (t == nullptr) continue;  // libjpeg says so itself
    std::array<std::uint16_t, 64> table{};
    std::copy(std::begin(t->quantval), std::end(t->quantval), table.begin());
    if (table_is_torn(table)) return true;
  }
  return false;
}

// What libjpeg did not notice.
std::string hidden_damage(const Targets& targets, const std::array<cv::Size, 3>& units, int components) {
  const int height = targets[0].plane.rows;
  for (int c = 0; c < components; ++c) {
    const auto i = static_cast<std::size_t>(c);
    if (const auto row = drift_row(targets[i].plane, units[i]))
      return fmt::format("corrupt data: the {} jumps, from row {} of {}", c == 0 ? "brightness" : "colour",
                         *row * height / std::max(1, targets[i].plane.rows), height);
  }
  return {};
}

Result<Planes> read_planes(Session& s) {
  auto& info = s.info;
  Targets targets;
  std::array<cv::Size, 3> units;
  const bool torn = any_table_torn(info);
  // A stray frame header inside damaged data overwrites libjpeg's sizes and counts before it is refused: what
  // is needed after a failure is taken now.
  const int components = info.num_components;
  for (int c = 0; c < components; ++c) {
    targets[static_cast<std::size_t>(c)] = target_for(info, c);
    units[static_cast<std::size_t>(c)] = unit_of(info, c);
  }
  info.raw_data_out = TRUE;
  info.out_color_space = info.jpeg_color_space;
  volatile int pass = 0;  // read after a jump
  const bool started = guarded(s.trap, [&] { jpeg_start_decompress(&info); });
  const bool whole = started && guarded(s.trap, [&] {
                       while (info.output_scanline < info.output_height) {
                         read_pass(info, targets, pass);
                         pass = pass + 1;
                       }
                       jpeg_finish_decompress(&info);  // sees bytes left over and a missing end
                     });
  if (s.watch.stop != Stop::none || (!whole && pass == 0)) return failure(s);
  fill_missing(targets, components, pass);

  Planes out;
  out.luma = targets[0].plane;
  out.luma8 = targets[0].small;
  if (components == 3) {
    out.cb = targets[1].plane;
    out.cr = targets[2].plane;
    out.cb8 = targets[1].small;
    out.cr8 = targets[2].small;
  }
  out.damage = damage_of(s, out.luma.rows);
  if (out.damage.empty() && torn) out.damage = "corrupt data: a quantisation table makes no sense";
  if (out.damage.empty()) out.damage = hidden_damage(targets, units, components);
  return out;
}

// For what is stored otherwise (RGB, odd sampling): libjpeg's ordinary way to interleaved pixels.
Result<Planes> read_pixels(Session& s) {
  auto& info = s.info;
  const bool rgb = info.jpeg_color_space == JCS_RGB;
  info.out_color_space = rgb ? JCS_RGB : JCS_YCbCr;
  cv::Mat pixels =
      image::pooled(static_cast<int>(info.image_height), static_cast<int>(info.image_width), CV_8UC3);
  volatile JDIMENSION done = 0;
  const bool started = guarded(s.trap, [&] { jpeg_start_decompress(&info); });
  const bool whole = started && guarded(s.trap, [&] {
                       while (info.output_scanline < info.output_height) {
                         JSAMPROW row = pixels.ptr(static_cast<int>(info.output_scanline));
                         jpeg_read_scanlines(&info, &row, 1);
                         done = info.output_scanline;
                       }
                       jpeg_finish_decompress(&info);
                     });
  if (s.watch.stop != Stop::none || (!whole && done == 0)) return failure(s);
  if (static_cast<int>(done) < pixels.rows)
    pixels.rowRange(static_cast<int>(done), pixels.rows).setTo(cv::Scalar::all(kGrey));
  Planes out;
  if (rgb) {
    out = planes_of_rgb(pixels);
  } else {
    for (cv::Mat* plane : {&out.luma, &out.cb, &out.cr})
      *plane = image::pooled(pixels.rows, pixels.cols, CV_8UC1);
    cv::Mat planes[3] = {out.luma, out.cb, out.cr};
    cv::split(pixels, planes);
    out.luma8 = image::eighth(out.luma);
    out.cb8 = image::eighth(out.cb);
    out.cr8 = image::eighth(out.cr);
  }
  out.damage = damage_of(s, out.luma.rows);
  return out;
}

}  // namespace

Result<Planes> decode_jpeg(Bytes data, const Limits& limits, const Deadline& deadline) try {
  if (data.empty()) return Error{Cause::truncated, {}, "the file is empty"};
  Session s(limits, deadline);
  const bool opened = guarded(s.trap, [&] {
    jpeg_create_decompress(&s.info);
    s.info.progress = &s.watch.manager;
    jpeg_mem_src(&s.info, data.data(), static_cast<unsigned long>(data.size()));
    jpeg_read_header(&s.info, TRUE);
  });
  if (!opened) return failure(s);
  s.trap.in_header = false;
  if (auto fine = check_header(s.info, data.size(), limits); !fine) return fine.error();
  return stored_as_wanted(s.info) ? read_planes(s) : read_pixels(s);
} catch (const std::bad_alloc&) {
  return Error{Cause::memory, {}, "not enough memory"};
} catch (const cv::Exception&) {
  return Error{Cause::memory, {}, "not enough memory"};
}

// JFIF 1.02, "Colour space": conversion of BT.601 luma and colour differences at full range, in 16-bit fixed
// point rounded to nearest.
Planes planes_of_rgb(const cv::Mat& rgb) {
  Planes out;
  for (cv::Mat* plane : {&out.luma, &out.cb, &out.cr}) *plane = image::pooled(rgb.rows, rgb.cols, CV_8UC1);
  for (int row = 0; row < rgb.rows; ++row) {
    const std::uint8_t* in = rgb.ptr(row);
    std::uint8_t* y = out.luma.ptr(row);
    std::uint8_t* cb = out.cb.ptr(row);
    std::uint8_t* cr = out.cr.ptr(row);
    for (int x = 0; x < rgb.cols; ++x) {
      const int r = in[3 * x];
      const int g = in[3 * x + 1];
      const int b = in[3 * x + 2];
      constexpr int centre = (kGrey << 16) + 32767;
      y[x] = static_cast<std::uint8_t>((19595 * r + 38470 * g + 7471 * b + 32768) >> 16);
      cb[x] = static_cast<std::uint8_t>((-11059 * r - 21709 * g + 32768 * b + centre) >> 16);
      cr[x] = static_cast<std::uint8_t>((32768 * r - 27439 * g - 5329 * b + centre) >> 16);
    }
  }
  out.luma8 = image::eighth(out.luma);
  out.cb8 = image::eighth(out.cb);
  out.cr8 = image::eighth(out.cr);
  return out;
}

ByteBuffer encode_jpeg(const cv::Mat& bgr, int quality) {
  if (bgr.empty() || bgr.type() != CV_8UC3) return {};
  jpeg_compress_struct info{};
  Trap trap{};
  set_trap(trap);
  info.err = &trap.manager;
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  const bool whole = guarded(trap, [&] {
    jpeg_create_compress(&info);
    jpeg_mem_dest(&info, &bytes, &size);
    info.image_width = static_cast<JDIMENSION>(bgr.cols);
    info.image_height = static_cast<JDIMENSION>(bgr.rows);
    info.input_components = 3;
    info.in_color_space = JCS_EXT_BGR;
    jpeg_set_defaults(&info);  // 4:2:0
    jpeg_set_quality(&info, quality, TRUE);
    jpeg_start_compress(&info, TRUE);
    while (info.next_scanline < info.image_height) {
      JSAMPROW row = const_cast<JSAMPROW>(bgr.ptr(static_cast<int>(info.next_scanline)));
      jpeg_write_scanlines(&info, &row, 1);
    }
    jpeg_finish_compress(&info);
  });
  jpeg_destroy_compress(&info);
  ByteBuffer out;
  if (whole && bytes) out.assign(bytes, bytes + size);
  std::free(bytes);
  return out;
}

}  // namespace burstsieve::decode
