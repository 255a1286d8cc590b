// The standard Exif fields of a Capture, from tags alone.
#pragma once
#include <cstdint>
#include <string>

#include "burstsieve/camera/tag_view.h"
#include "burstsieve/model/capture.h"

namespace burstsieve::decode {

// What is known about the pixels before the tags are looked at: the size stored in the image data itself, in
// the sensor's own layout; 0 where unknown.
struct StoredSize {
  int width = 0;
  int height = 0;
};

// Fills make, model, serial, lens, time, exposure, orientation, the upright size and the pixel
// pitch. `stored` wins for a
// JPEG; a raw passes {} and gets the size of its main image by the tags (DNG default crop, else the camera's
// own JPEG size when it fits the main directory, else the main directory). Never throws; leaves alone what
// the tags do not say.
void read_exif_fields(const camera::TagView& tags, StoredSize stored, Capture& capture);

// The lens described by its range, "24-70mm f/2.8" or "100-400mm f/4.5-5.6", from LensSpecification
// (Exif 2.32 §4.6.5, 0xA432) or the maker's own numbers; empty where unknown. For files that do not name it.
std::string lens_by_numbers(const camera::TagView& tags);

// Sets the upright size from one in the sensor's own layout.
void set_sensor_size(Capture& capture, std::int64_t width, std::int64_t height);

}  // namespace burstsieve::decode
