// One number about a frame, with its unit and how far it can be trusted.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/model/region.h"

namespace burstsieve {

struct Measure {
  std::string id;         // "blur_sigma_px"
  double value = 0;       // finite
  std::string unit;       // "px", "EV", "" for a fraction
  double confidence = 0;  // 0..1
  std::string basis;      // what it was measured on: "jpeg", "embedded preview", "raw mosaic"
  bool operator==(const Measure&) const = default;
};

// The measure called `id`, or nothing.
const Measure* find(const std::vector<Measure>& measures, std::string_view id);

// What can be seen of an animal's head.
enum class HeadView {
  unknown,  // nothing trusted was found; says nothing about whether it shows
  visible,  // Subject::head holds it
  hidden    // behind a wing, tucked in, or turned away
};
const char* name_of(HeadView view);

// A region of an animal in the frame.
struct Subject {
  Region box;
  // Where sharpness was asked for; set when this frame by itself showed a trusted head there. The other
  // frames of the burst may still have turned head_view to unknown.
  std::optional<Region> head;
  double confidence = 0;  // 0..1 that the box holds the animal the photographer meant
  std::string source;     // which finder said so: "AF area", "burst motion", "focus energy"
  // Of this subject alone: blur_sigma_px, mtf50, cut_by_edge, subject_size. Empty where it was not measured
  // (measure/subjects.h).
  std::vector<Measure> measures = {};
  HeadView head_view = HeadView::unknown;
  double head_confidence = 0;  // 0..1 that head_view, and `head` where visible, are right
  std::string why = {};        // for people: why it is the first of the frame, or stands where it does
  bool operator==(const Subject&) const = default;
};

// For people: where the sharpness of a subject was read.
const char* sharpness_from(const Subject& subject);

// Compact picture of the subject for telling poses apart.
struct PoseDescriptor {
  std::uint64_t hash = 0;  // 64-bit DCT sign hash of the subject crop
  std::vector<std::uint8_t>
      tile;  // 64x64 luma of the subject crop, row-major; empty when the frame was not decoded
  bool operator==(const PoseDescriptor&) const = default;
};

// Which cells of a grid over a part of the upright frame hold the animal; outside that part there is none of
// it.
struct CellMask {
  int cols = 0, rows = 0;           // 0: nothing is known of the outline
  std::vector<std::uint8_t> cells;  // row-major, cols x rows; 1 = animal
  Region where{0, 0, 1, 1};         // what the grid covers, inside the frame
  double confidence = 0;            // 0..1 that it is the animal's outline; 0: only where its detail lies
  bool empty() const { return cols <= 0 || rows <= 0; }
  bool at(int col, int row) const { return cells[static_cast<std::size_t>(row * cols + col)] != 0; }
  // x, y: 0..1 of the frame; false outside the grid and when the mask is empty.
  bool holds(double x, double y) const;
  bool operator==(const CellMask&) const = default;
};

// Everything the engine learnt about one frame; nothing here depends on the user's options.
struct FrameFacts {
  bool decoded = false;  // false: see damage
  std::string damage;    // why the pixels can't be trusted; empty when they can
  int pixel_width = 0;   // of the decoded image, upright
  int pixel_height = 0;
  std::string pixel_source;       // "jpeg" or "embedded preview"
  std::vector<Subject> subjects;  // best first; empty when none was found
  CellMask mask;                  // of the first subject
  std::vector<Measure> measures;
  PoseDescriptor pose;
  std::vector<std::uint8_t> thumbnail;  // JPEG, longest side 320 px, upright
  std::vector<std::string> notes;
  bool operator==(const FrameFacts&) const = default;
};

}  // namespace burstsieve
