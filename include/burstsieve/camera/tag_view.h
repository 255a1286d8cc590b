// Read-only view of a file's EXIF and maker-note tags, so that the maker files need no metadata library and
// tests can hand them tags directly.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace burstsieve::camera {

class TagView {
 public:
  virtual ~TagView() = default;
  // Keys are "Group.Tag" as in "Canon.AFPointsInFocus", "Photo.DateTimeOriginal", "Sony2.0x2027".
  // All components as integers; nothing when the tag is absent or not integral. Never throws.
  virtual std::optional<std::vector<std::int64_t>> ints(std::string_view key) const = 0;
  // All components as numbers (rationals divided; a zero denominator makes it absent).
  virtual std::optional<std::vector<double>> numbers(std::string_view key) const = 0;
  // As text, trimmed.
  virtual std::optional<std::string> text(std::string_view key) const = 0;
  // The raw bytes of the value.
  virtual std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const = 0;
};

}  // namespace burstsieve::camera
