// What the camera recorded about one release of the shutter. Plain data; std only.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/region.h"

namespace burstsieve {

enum class DriveMode { unknown, single, continuous, self_timer, bracket };

// Where the camera focused, as it says itself.
struct AfArea {
  Region box;             // upright, normalised
  double confidence = 0;  // 0..1: how directly the maker note states it
  std::string source;     // for people: "Canon AF points in focus"
  bool operator==(const AfArea&) const = default;
};

// How far away the lens was focused, as the file says itself. Cameras mean the distance from the sensor; the
// lens stands a focal length or so before it.
struct SubjectDistance {
  double metres = 0;                        // > 0
  std::optional<double> nearest, farthest;  // metres; of the step of the scale, where there is one
  std::string source;                       // for people: "Canon focus distance"
  bool operator==(const SubjectDistance&) const = default;
};

struct Capture {
  std::string make;    // "Canon", trimmed, as recorded
  std::string model;   // "Canon EOS R5"
  std::string serial;  // body serial number; empty where unknown
  std::string lens;    // empty where unknown

  // Milliseconds since 1970-01-01. In UTC when utc_offset_minutes is known, else of the camera's own clock.
  std::optional<std::int64_t> time_ms;
  bool subsecond_known = false;  // false: time_ms is a whole second only because the file says no more
  std::optional<int> utc_offset_minutes;

  std::optional<double> focal_mm;
  std::optional<double> f_number;
  std::optional<double> exposure_s;
  std::optional<double> iso;
  // Pitch of the pixels of the full-size frame on the sensor, micrometres; where the file says enough.
  std::optional<double> pixel_pitch_um;
  std::optional<SubjectDistance> distance;  // infinity counts as unknown

  int orientation = 1;  // EXIF 1..8
  int width = 0;        // upright full-size frame in pixels; 0 where unknown
  int height = 0;

  DriveMode drive = DriveMode::unknown;
  std::optional<std::uint32_t>
      sequence_number;                         // 1-based place inside a continuous run, where the maker says
  std::optional<std::uint64_t> shutter_count;  // releases of this body; some count mechanical releases only
  std::optional<std::uint32_t> file_number;    // the camera's running file number (DCF 0001..9999)

  std::optional<AfArea> af;

  std::vector<std::string> notes;  // damage and doubts met on the way, one line each

  bool operator==(const Capture&) const = default;
};

}  // namespace burstsieve
