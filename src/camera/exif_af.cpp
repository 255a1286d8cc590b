#include "burstsieve/camera/exif_af.h"

#include "burstsieve/camera/af_box.h"

namespace burstsieve::camera {

void read_exif_af(const TagView& tags, Capture& capture) {
  auto area = tags.ints("Photo.SubjectArea");
  if (!area) area = tags.ints("Photo.SubjectLocation");
  if (!area) return;
  SensorSize size = sensor_size(capture);
  // The values count pixels of the image the camera meant, which a raw's sensor size may exceed.
  const auto w = integer(tags, "Photo.PixelXDimension");
  const auto h = integer(tags, "Photo.PixelYDimension");
  if (w && h && *w > 0 && *h > 0) size = {static_cast<double>(*w), static_cast<double>(*h)};
  if (!(size.width > 0 && size.height > 0)) {
    capture.notes.push_back("AF area ignored: SubjectArea without an image size");
    return;
  }
  const auto at = [&](std::size_t i) { return static_cast<double>((*area)[i]); };
  if (area->size() == 2) {
    set_af_point(capture, at(0) / size.width, at(1) / size.height, .5, "Exif subject area (point)");
  } else if (area->size() == 3 || area->size() == 4) {
    const double bw = at(2) / size.width;
    const double bh = at(area->size() - 1) / size.height;
    set_af(capture, {at(0) / size.width - bw / 2, at(1) / size.height - bh / 2, bw, bh}, .7,
           "Exif subject area");
  } else {
    capture.notes.push_back("AF area ignored: SubjectArea has a wrong number of values");
  }
}

}  // namespace burstsieve::camera
