// Helpers shared by the maker files: one value out of a tag, and the one way an AF area enters a Capture.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "burstsieve/camera/tag_view.h"
#include "burstsieve/model/capture.h"

namespace burstsieve::camera {

// Component `index` of an integral tag; nothing when the tag is absent or shorter.
std::optional<std::int64_t> integer(const TagView& tags, std::string_view key, std::size_t index = 0);

// Size of the frame in the sensor's own layout (the orientation taken back out); 0 where unknown.
struct SensorSize {
  double width = 0;
  double height = 0;
};
SensorSize sensor_size(const Capture& capture);

// Side of the square that stands for a focus *point*, as a fraction of the frame's longer side. The maker
// notes give no size for it; single AF areas of known size in our reference files are .03 to .08 of the
// width.
inline constexpr double kPointSide = .06;

// Puts `sensor_box` (normalised, in the sensor's own layout, not clamped) upright into capture.af. A box that
// is not finite, has no area, lies outside the frame by its centre, or covers more than the frame is refused:
// af stays as it was, a note says so, and the result is false.
bool set_af(Capture& capture, const Region& sensor_box, double confidence, std::string source);

// The same for a point (x, y normalised in the sensor's layout): a square of kPointSide about it.
bool set_af_point(Capture& capture, double x, double y, double confidence, std::string source);

// Sets `target` from `key` when its first value is in low..high.
template <class T>
void set_count(std::optional<T>& target, const TagView& tags, std::string_view key, std::int64_t low,
               std::int64_t high) {
  if (const auto v = integer(tags, key); v && *v >= low && *v <= high) target = static_cast<T>(*v);
}

// Sets `target` to the text of `key` when it has none yet and the tag has some printable text.
void set_text(std::string& target, const TagView& tags, std::string_view key);

}  // namespace burstsieve::camera
