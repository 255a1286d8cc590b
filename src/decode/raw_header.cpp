#include "burstsieve/decode/raw_header.h"

#include <libraw/libraw.h>

#include <cmath>
#include <ctime>
#include <memory>

#include "burstsieve/base/text.h"
#include "burstsieve/decode/exif_fields.h"
#include "raw_stream.h"

namespace burstsieve::decode {
namespace {

std::string field(const char* text, std::size_t size) {
  std::string_view v(text, size);
  return one_line(trimmed(v.substr(0, v.find('\0'))));
}

void positive(std::optional<double>& target, float value) {
  if (!target && std::isfinite(value) && value > 0) target = static_cast<double>(value);
}

// LibRaw's flip: how to turn the picture, 3 = 180, 5 = 90 counter-clockwise, 6 = 90 clockwise.
int orientation_of(int flip) {
  switch (flip) {
    case 3:
      return 3;
    case 5:
      return 8;
    case 6:
      return 6;
    default:
      return 1;
  }
}

// LibRaw made the time with mktime(), in the time zone of this machine; localtime_r gives the camera's clock
// back.
std::optional<std::int64_t> camera_clock(std::time_t t) {
  std::tm parts{};
  if (t <= 0 || localtime_r(&t, &parts) == nullptr) return std::nullopt;
  return static_cast<std::int64_t>(timegm(&parts)) * 1000;
}

}  // namespace

void fill_from_raw_header(const std::string& path, Capture& c, bool replace_size) {
  try {
    RawStream stream(path, Deadline(Limits{}));
    const auto raw =
        std::make_unique<LibRaw>(LIBRAW_OPIONS_NO_DATAERR_CALLBACK);  // 100s of KB: not on the stack
    if (const int error = raw->open_datastream(&stream); error != LIBRAW_SUCCESS) {
      c.notes.push_back(std::string("raw header not readable: ") + libraw_strerror(error));
      return;
    }
    const auto& d = raw->imgdata;
    if (c.make.empty()) {
      c.make = field(d.idata.make, sizeof d.idata.make);
      c.model = field(d.idata.model, sizeof d.idata.model);
      c.notes.push_back("camera and exposure from the raw decoder: the metadata reader found none");
    }
    if (c.lens.empty()) c.lens = field(d.lens.Lens, sizeof d.lens.Lens);
    if (c.serial.empty()) c.serial = field(d.shootinginfo.BodySerial, sizeof d.shootinginfo.BodySerial);
    positive(c.iso, d.other.iso_speed);
    positive(c.exposure_s, d.other.shutter);
    positive(c.f_number, d.other.aperture);
    positive(c.focal_mm, d.other.focal_len);
    if (!c.time_ms) c.time_ms = camera_clock(d.other.timestamp);
    if (c.width == 0 && c.orientation == 1) c.orientation = orientation_of(d.sizes.flip);
    // A Super CCD's photosites lie on a diagonal grid; its stored size is no picture size.
    if ((c.width == 0 || replace_size) && !raw->is_fuji_rotated()) {
      // The crop the camera means, where the file states it: a few per cent less than the usable sensor.
      const auto& crop = d.sizes.raw_inset_crop;
      const bool use_crop = crop.cwidth <= d.sizes.width && crop.cheight <= d.sizes.height &&
                            crop.cwidth >= .9 * d.sizes.width && crop.cheight >= .9 * d.sizes.height;
      set_sensor_size(c, use_crop ? crop.cwidth : d.sizes.width, use_crop ? crop.cheight : d.sizes.height);
    }
  } catch (const std::exception& e) {
    c.notes.push_back(one_line(std::string("raw header not readable: ") + e.what()));
  } catch (...) {
    c.notes.push_back("raw header not readable");
  }
}

}  // namespace burstsieve::decode
