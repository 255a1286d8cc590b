// One camera maker's private tags. Each file in src/camera/maker/ defines one Maker; CMake writes the table.
#pragma once
#include <span>
#include <string_view>

#include "burstsieve/camera/tag_view.h"
#include "burstsieve/model/capture.h"

namespace burstsieve::camera {

struct Maker {
  std::string_view id;  // "canon"
  // True when this maker wrote the file. `make`: EXIF Make in lower case.
  bool (*matches)(std::string_view make);
  // Fills what the maker note states: af (upright), distance, drive, sequence_number, shutter_count,
  // file_number, serial, lens. `capture` already holds the standard EXIF fields, orientation and size
  // included. Leaves alone what it does not know and adds a note for what contradicts itself. Never throws.
  void (*read)(const TagView& tags, Capture& capture);
};

std::span<const Maker* const> makers();  // sorted by id

}  // namespace burstsieve::camera
