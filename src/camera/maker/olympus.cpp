// Olympus and OM System. AFPointSelected (camera settings 0x0305): five fractions, the first unused, then x y
// x y. Bodies since the OM-1 write 0/0 throughout: unknown.
#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/focus_distance.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

// "0/0 335/640 ..." as numbers; an undefined fraction is NaN. The text is read because one 0/0 makes the
// whole tag absent as numbers.
std::vector<double> fractions(std::string_view text) {
  std::vector<double> out;
  const char* at = text.data();
  const char* const end = at + text.size();
  while (at < end && out.size() < 16) {
    if (*at == ' ') {
      ++at;
      continue;
    }
    long long top = 0;
    long long bottom = 0;
    const auto first = std::from_chars(at, end, top);
    if (first.ec != std::errc() || first.ptr == end || *first.ptr != '/') return {};
    const auto second = std::from_chars(first.ptr + 1, end, bottom);
    if (second.ec != std::errc()) return {};
    out.push_back(bottom == 0 ? std::nan("") : static_cast<double>(top) / static_cast<double>(bottom));
    at = second.ptr;
  }
  return out;
}

void read_af(const TagView& tags, Capture& c) {
  const auto text = tags.text("OlympusCs.AFPointSelected");
  if (!text) return;
  const auto v = fractions(*text);
  if (v.size() != 5) return;
  if (std::any_of(v.begin() + 1, v.end(), [](double d) { return !std::isfinite(d); })) return;
  const double w = std::abs(v[3] - v[1]);
  const double h = std::abs(v[4] - v[2]);
  if (w > 0 && h > 0)
    set_af(c, {std::min(v[1], v[3]), std::min(v[2], v[4]), w, h}, .7, "Olympus AF area selected");
  else
    set_af_point(c, (v[1] + v[3]) / 2, (v[2] + v[4]) / 2, .7, "Olympus AF point selected");
}

// A fraction whose denominator says nothing: the numerator counts millimetres on every body, 2^32 - 1 is
// infinity (exiftool's tag table).
void read_distance(const TagView& tags, Capture& c) {
  const auto text = tags.text("OlympusFi.FocusDistance");
  if (!text) return;
  std::uint32_t mm = 0;
  const char* const end = text->data() + text->size();
  const auto read = std::from_chars(text->data(), end, mm);
  if (read.ec != std::errc() || read.ptr == end || *read.ptr != '/' || mm == 0xffffffff) return;
  set_distance(c, mm / 1000.0, "Olympus focus distance");
}

DriveMode drive(const TagView& tags, std::optional<std::uint32_t>& sequence) {
  const auto v = tags.ints("OlympusCs.DriveMode");
  if (!v || v->empty()) return DriveMode::unknown;
  switch (v->front()) {
    case 0:
      return DriveMode::single;
    case 1:
      if (v->size() > 1 && (*v)[1] > 0 && (*v)[1] < 65535) sequence = static_cast<std::uint32_t>((*v)[1]);
      return DriveMode::continuous;
    case 2:
    case 3:
    case 4:
      return DriveMode::bracket;
    case 5:  // the third number tells which bracketing; none: not known
      return v->size() > 2 && (*v)[2] > 0 ? DriveMode::bracket : DriveMode::unknown;
    default:
      return DriveMode::unknown;
  }
}

bool matches(std::string_view make) {
  return make.starts_with("olympus") || make.starts_with("om digital");
}

void read(const TagView& tags, Capture& c) {
  read_af(tags, c);
  read_distance(tags, c);
  c.drive = drive(tags, c.sequence_number);
  set_text(c.serial, tags, "OlympusEq.SerialNumber");
  set_text(c.lens, tags, "OlympusEq.LensModel");
}

}  // namespace

extern const Maker olympus;
const Maker olympus{"olympus", matches, read};

}  // namespace burstsieve::camera::maker
