// Fujifilm. FocusPixel (0x1023, unnamed in exiv2 0.27) counts pixels of the camera's own JPEG.
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

void read_af(const TagView& tags, Capture& c) {
  const auto p = tags.ints("Fujifilm.0x1023");
  if (!p) return;
  SensorSize size = sensor_size(c);
  const auto w = integer(tags, "Photo.PixelXDimension");
  const auto h = integer(tags, "Photo.PixelYDimension");
  if (w && h && *w > 0 && *h > 0) size = {static_cast<double>(*w), static_cast<double>(*h)};
  if (p->size() != 2 || !(size.width > 0 && size.height > 0)) {
    c.notes.push_back("AF area ignored: Fujifilm focus pixel without an image size");
    return;
  }
  if ((*p)[0] == 0 && (*p)[1] == 0) return;  // not set
  set_af_point(c, static_cast<double>((*p)[0]) / size.width, static_cast<double>((*p)[1]) / size.height, .8,
               "Fujifilm focus pixel");
}

DriveMode drive(const TagView& tags) {
  // 0x1100, "Continuous" in exiv2: 1 = exposure bracketing, 2 = with and without flash.
  if (const auto bracket = integer(tags, "Fujifilm.Continuous"); bracket && (*bracket == 1 || *bracket == 2))
    return DriveMode::bracket;
  // 0x1103: low byte 0 single, 1 continuous low, 2 continuous high.
  const auto settings = integer(tags, "Fujifilm.0x1103");
  if (!settings || *settings < 0) return DriveMode::unknown;
  switch (*settings & 0xff) {
    case 0:
      return DriveMode::single;
    case 1:
    case 2:
      return DriveMode::continuous;
    default:
      return DriveMode::unknown;
  }
}

bool matches(std::string_view make) {
  return make.starts_with("fujifilm");
}

void read(const TagView& tags, Capture& c) {
  read_af(tags, c);
  c.drive = drive(tags);
  set_count(c.sequence_number, tags, "Fujifilm.SequenceNumber", 1, 65534);
  set_text(c.serial, tags, "Fujifilm.SerialNumber");  // internal number; constant for a body
}

}  // namespace

extern const Maker fujifilm;
const Maker fujifilm{"fujifilm", matches, read};

}  // namespace burstsieve::camera::maker
