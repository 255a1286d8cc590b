#include "capture_promises.h"

#include <algorithm>
#include <cmath>

#include "target.h"

namespace burstsieve::fuzz {
namespace {

bool inside(const Region& r) {
  // 1e-9: the box was computed, not read.
  return std::isfinite(r.x) && std::isfinite(r.y) && r.w > 0 && r.h > 0 && r.x >= 0 && r.y >= 0 &&
         r.right() <= 1 + 1e-9 && r.bottom() <= 1 + 1e-9;
}

bool sane(const std::optional<double>& v) {
  return !v || (std::isfinite(*v) && *v > 0);
}

bool printable(const std::string& text) {
  return text.size() <= 1000 &&
         std::none_of(text.begin(), text.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; });
}

}  // namespace

void require_sound(const Capture& c) {
  if (c.af) {
    require(inside(c.af->box), "an AF area lies inside the frame");
    require(c.af->confidence >= 0 && c.af->confidence <= 1, "a confidence is 0..1");
    require(clean_line(c.af->source) && !c.af->source.empty(), "an AF area names its source");
  }
  for (const std::string* text : {&c.make, &c.model, &c.serial, &c.lens})
    require(printable(*text), "a camera's texts are short and have no control characters");
  for (const std::string& note : c.notes)
    require(clean_line(note) && !note.empty(), "a note is one clean line");
  require(c.notes.size() < 20, "notes are few");
  require(c.orientation >= 1 && c.orientation <= 8, "an orientation is 1..8");
  require(c.width >= 0 && c.height >= 0 && (c.width > 0) == (c.height > 0), "a size is whole or absent");
  require(c.width <= 1'000'000 && c.height <= 1'000'000, "no frame is larger than a million pixels a side");
  for (const auto& v : {c.focal_mm, c.f_number, c.exposure_s, c.iso})
    require(sane(v), "exposure data are positive and finite");
  require(c.drive >= DriveMode::unknown && c.drive <= DriveMode::bracket, "a drive mode is one of ours");
  require(!c.sequence_number || (*c.sequence_number >= 1 && *c.sequence_number <= 99'999),
          "a place in a run counts from 1");
  require(!c.file_number || (*c.file_number >= 1 && *c.file_number <= 9999), "a file number is 1..9999");
  // 1900 to 9999, and the offset of a zone.
  require(!c.time_ms || (*c.time_ms > -2'209'100'000'000 && *c.time_ms < 253'402'400'000'000),
          "a time lies between 1900 and 9999");
}

}  // namespace burstsieve::fuzz
