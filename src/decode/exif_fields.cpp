#include "burstsieve/decode/exif_fields.h"

#include <array>
#include <cmath>
#include <string>

#include "burstsieve/base/text.h"
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/focus_distance.h"
#include "burstsieve/decode/exif_time.h"

namespace burstsieve::decode {
namespace {

using camera::integer;
using camera::TagView;

void read_time(const TagView& tags, Capture& c) {
  struct Source {
    const char *time, *fraction, *offset;
  };
  // When the shutter opened; when it was digitised (the same in a digital camera); when the file last
  // changed.
  static constexpr std::array<Source, 3> sources{
      {{"Photo.DateTimeOriginal", "Photo.SubSecTimeOriginal", "Photo.OffsetTimeOriginal"},
       {"Photo.DateTimeDigitized", "Photo.SubSecTimeDigitized", "Photo.OffsetTimeDigitized"},
       {"Image.DateTime", "Photo.SubSecTime", "Photo.OffsetTime"}}};
  for (const Source& s : sources) {
    const auto text = tags.text(s.time);
    auto ms = text ? parse_exif_time(*text) : std::nullopt;
    if (!ms && std::string_view(s.time) == "Photo.DateTimeOriginal")
      if (const auto other = tags.text("Image.DateTimeOriginal")) ms = parse_exif_time(*other);  // TIFF/EP
    if (!ms) continue;
    c.time_ms = *ms;
    if (const auto fraction = tags.text(s.fraction))
      if (const auto part = parse_subsecond(*fraction)) {
        *c.time_ms += *part;
        c.subsecond_known = true;
      }
    if (const auto offset = tags.text(s.offset)) c.utc_offset_minutes = parse_utc_offset(*offset);
    if (c.utc_offset_minutes) *c.time_ms -= std::int64_t{*c.utc_offset_minutes} * 60'000;
    return;
  }
}

std::optional<double> positive(const TagView& tags, const char* key) {
  const auto v = tags.numbers(key);
  if (!v || v->empty() || !std::isfinite(v->front()) || !(v->front() > 0)) return std::nullopt;
  return v->front();
}

std::optional<double> first_positive(const TagView& tags, std::initializer_list<const char*> keys) {
  for (const char* key : keys)
    if (const auto v = positive(tags, key)) return v;
  return std::nullopt;
}

// APEX (Exif 2.32 annex C): exposure time 2^-Tv seconds, f-number 2^(Av/2).
std::optional<double> apex(const TagView& tags, const char* key, double factor) {
  const auto v = tags.numbers(key);
  if (!v || v->empty() || !std::isfinite(v->front()) || std::abs(v->front()) > 30) return std::nullopt;
  return std::exp2(v->front() * factor);
}

void read_exposure(const TagView& tags, Capture& c) {
  c.focal_mm = first_positive(tags, {"Photo.FocalLength", "Image.FocalLength"});
  c.f_number = first_positive(tags, {"Photo.FNumber", "Image.FNumber"});
  if (!c.f_number) c.f_number = apex(tags, "Photo.ApertureValue", .5);
  c.exposure_s = first_positive(tags, {"Photo.ExposureTime", "Image.ExposureTime"});
  if (!c.exposure_s) c.exposure_s = apex(tags, "Photo.ShutterSpeedValue", -1);
  // ISOSpeedRatings is a short: 65535 stands for "look into the longer tags" (Exif 2.32 §4.6.5, 0x8827).
  for (const char* key :
       {"Photo.ISOSpeedRatings", "Photo.RecommendedExposureIndex", "Photo.ISOSpeed",
        "Photo.StandardOutputSensitivity", "Image.ISOSpeedRatings", "PanasonicRaw.ISOSpeed"})
    if (const auto v = positive(tags, key); v && *v != 65535) {
      c.iso = v;
      break;
    }
}

// Micrometres per pixel from the resolution on the focal plane (Exif 2.32 §4.6.5, 0xA20E; unit 0xA210: 2
// inch, 3 centimetre; 4 mm and 5 um by common practice), else from the diagonal that the 35 mm equivalent
// implies (43.27 mm over the ratio of the focal lengths; whole millimetres, so good to a few per cent).
// Nothing outside .5 to 20 um: no camera has such pixels.
void read_pixel_pitch(const TagView& tags, Capture& c) {
  const auto plausible = [](double um) { return std::isfinite(um) && um >= .5 && um <= 20; };
  if (const auto per_unit = positive(tags, "Photo.FocalPlaneXResolution")) {
    const auto unit = integer(tags, "Photo.FocalPlaneResolutionUnit").value_or(2);
    const double um = unit == 2 ? 25400 : unit == 3 ? 10000 : unit == 4 ? 1000 : unit == 5 ? 1 : 0;
    if (plausible(um / *per_unit)) c.pixel_pitch_um = um / *per_unit;
  }
  const auto equivalent = positive(tags, "Photo.FocalLengthIn35mmFilm");
  if (c.pixel_pitch_um || !equivalent || !c.focal_mm || c.width <= 0 || c.height <= 0) return;
  const double diagonal_mm = 43.2666 * *c.focal_mm / *equivalent;
  const double um = 1000 * diagonal_mm / std::hypot(c.width, c.height);
  if (plausible(um)) c.pixel_pitch_um = um;
}

// Exif 2.32 §4.6.5, tag 0x9206: metres; numerator 0 unknown, 0xFFFFFFFF infinity.
void read_distance(const TagView& tags, Capture& c) {
  const auto text = tags.text("Photo.SubjectDistance");
  const auto metres = positive(tags, "Photo.SubjectDistance");
  if (metres && !(text && text->starts_with("4294967295/")))
    camera::set_distance(c, *metres, "Exif subject distance");
}

struct Size {
  std::int64_t w = 0, h = 0;
  bool known() const { return w > 0 && h > 0; }
};

Size size_of(const TagView& tags, const std::string& width_key, const std::string& height_key) {
  return {integer(tags, width_key).value_or(0), integer(tags, height_key).value_or(0)};
}

// TIFF/EP and DNG: NewSubfileType 0 is the full-size image, 1 a reduced one. Compression 6 is a JPEG preview
// (a CR2 has a full-size one beside a raw of half the size).
bool full_size_directory(const TagView& tags, const std::string& group) {
  return integer(tags, group + ".NewSubfileType").value_or(0) == 0 &&
         integer(tags, group + ".Compression").value_or(1) != 6;
}

constexpr std::array<const char*, 12> kDirectories{"Image",     "SubImage1", "SubImage2", "SubImage3",
                                                   "SubImage4", "SubImage5", "SubImage6", "SubImage7",
                                                   "SubImage8", "SubImage9", "Image2",    "Image3"};

Size default_crop(const TagView& tags) {
  for (const std::string group : kDirectories) {
    if (!full_size_directory(tags, group)) continue;
    const auto v = tags.numbers(group + ".DefaultCropSize");
    if (v && v->size() == 2 && (*v)[0] >= 1 && (*v)[0] < 1e6 && (*v)[1] >= 1 && (*v)[1] < 1e6)
      return {std::llround((*v)[0]), std::llround((*v)[1])};
  }
  return {};
}

Size largest_directory(const TagView& tags) {
  Size best;
  for (const std::string group : kDirectories) {
    if (!full_size_directory(tags, group)) continue;
    const Size s = size_of(tags, group + ".ImageWidth", group + ".ImageLength");
    if (s.known() && s.w > best.w) best = s;
  }
  return best;
}

// Panasonic states the borders of the picture on the sensor (exiv2 calls the right and bottom one ImageWidth
// and ImageHeight).
Size panasonic(const TagView& tags) {
  const auto left = integer(tags, "PanasonicRaw.SensorLeftBorder");
  const auto top = integer(tags, "PanasonicRaw.SensorTopBorder");
  const auto right = integer(tags, "PanasonicRaw.ImageWidth");
  const auto bottom = integer(tags, "PanasonicRaw.ImageHeight");
  if (!left || !top || !right || !bottom) return {};
  for (const std::int64_t border : {*left, *top, *right, *bottom})
    if (border < 0 || border > 65535) return {};  // they are shorts; keeps the differences safe
  return {*right - *left, *bottom - *top};
}

Size main_image(const TagView& tags) {
  if (const Size s = default_crop(tags); s.known()) return s;
  if (const Size s = panasonic(tags); s.known()) return s;
  const Size camera = size_of(tags, "Photo.PixelXDimension", "Photo.PixelYDimension");
  const Size main = largest_directory(tags);
  if (!camera.known()) return main;
  if (!main.known() || camera.w >= main.w) return camera;
  // The camera's JPEG leaves out a margin of the sensor of a few per cent; much less is a preview's size.
  return static_cast<double>(camera.w) >= .9 * static_cast<double>(main.w) ? camera : main;
}

// "70-200" or, where both ends are the same, "600".
std::string range(double low, double high, int decimals) {
  const auto number = [&](double v) {
    std::string text = fixed(v, decimals);
    if (text.ends_with(".0")) text.resize(text.size() - 2);
    return text;
  };
  return low == high ? number(low) : number(low) + "-" + number(high);
}

bool between(double v, double low, double high) {
  return v >= low && v <= high;  // false for NaN
}

}  // namespace

std::string lens_by_numbers(const TagView& tags) {
  // Shortest and longest focal length in mm, largest aperture at each.
  for (const char* key : {"Photo.LensSpecification", "Nikon3.Lens"}) {
    const auto v = tags.numbers(key);
    if (!v || v->size() != 4 || !between((*v)[0], 1, 5000) || !between((*v)[1], (*v)[0], 5000)) continue;
    const std::string name = range((*v)[0], (*v)[1], 1) + "mm";
    if (!between((*v)[2], .5, 64) || !between((*v)[3], .5, 64)) return name;
    return name + " f/" + range((*v)[2], (*v)[3], 1);
  }
  // Canon: longest, shortest, units per mm.
  const auto v = tags.numbers("CanonCs.Lens");
  if (!v || v->size() != 3 || !((*v)[2] > 0)) return {};
  const double low = (*v)[1] / (*v)[2];
  const double high = (*v)[0] / (*v)[2];
  if (!between(low, 1, 5000) || !between(high, low, 5000)) return {};
  return range(low, high, 1) + "mm";
}

void set_sensor_size(Capture& capture, std::int64_t width, std::int64_t height) {
  constexpr std::int64_t kSane = 1'000'000;  // no image side; keeps int and products safe
  if (width <= 0 || height <= 0 || width > kSane || height > kSane) return;
  capture.width = static_cast<int>(swaps_sides(capture.orientation) ? height : width);
  capture.height = static_cast<int>(swaps_sides(capture.orientation) ? width : height);
}

void read_exif_fields(const TagView& tags, StoredSize stored, Capture& c) {
  camera::set_text(c.make, tags, "Image.Make");
  camera::set_text(c.make, tags, "PanasonicRaw.Make");
  camera::set_text(c.model, tags, "Image.Model");
  camera::set_text(c.model, tags, "PanasonicRaw.Model");
  camera::set_text(c.model, tags, "Image.UniqueCameraModel");
  camera::set_text(c.serial, tags, "Photo.BodySerialNumber");
  camera::set_text(c.lens, tags, "Photo.LensModel");
  read_time(tags, c);
  read_exposure(tags, c);
  read_distance(tags, c);
  for (const char* key : {"Image.Orientation", "PanasonicRaw.Orientation"})
    if (const auto v = integer(tags, key); v && *v >= 1 && *v <= 8) {
      c.orientation = static_cast<int>(*v);
      break;
    }
  if (stored.width > 0 && stored.height > 0) {
    set_sensor_size(c, stored.width, stored.height);
  } else {
    const Size s = main_image(tags);
    set_sensor_size(c, s.w, s.h);
  }
  read_pixel_pitch(tags, c);
}

}  // namespace burstsieve::decode
