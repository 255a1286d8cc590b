// Canon. AFInfo2 (tag 0x0026) on recent bodies, AFInfo (0x0012, exiv2 group CanonPi) on those before about
// 2007. Positions count from the centre of an image of AFImageWidth x AFImageHeight, which need not be the
// size of the photograph; y grows upwards on EOS bodies and downwards on the compact ones (exiftool's tag
// documentation).
#include <algorithm>
#include <array>
#include <cstdio>
#include <string>
#include <vector>

#include "burstsieve/base/text.h"
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/focus_distance.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

using Ints = std::vector<std::int64_t>;

// The AF points of one frame, in the units of the note.
struct Points {
  std::size_t valid = 0;
  double image_width = 0, image_height = 0;
  Ints x, y, w, h;
  Ints in_focus, selected;  // 16-bit words, bit i of word i / 16 is point i
};

std::vector<std::size_t> set_bits(const Ints& words, std::size_t count) {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < count && i / 16 < words.size(); ++i)
    if (words[i / 16] >> (i % 16) & 1) out.push_back(i);
  return out;
}

// Smallest box around the given points, sensor layout, normalised; empty when a point has no size.
Region around(const Points& p, const std::vector<std::size_t>& which, bool y_up) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const std::size_t i : which) {
    if (i >= p.x.size() || i >= p.y.size() || i >= p.w.size() || i >= p.h.size()) return {};
    if (p.w[i] <= 0 || p.h[i] <= 0) return {};
    const double x = .5 + static_cast<double>(p.x[i]) / p.image_width;
    const double y = .5 + (y_up ? -1.0 : 1.0) * static_cast<double>(p.y[i]) / p.image_height;
    const double w = static_cast<double>(p.w[i]) / p.image_width;
    const double h = static_cast<double>(p.h[i]) / p.image_height;
    x0 = std::min(x0, x - w / 2);
    x1 = std::max(x1, x + w / 2);
    y0 = std::min(y0, y - h / 2);
    y1 = std::max(y1, y + h / 2);
  }
  return {x0, y0, x1 - x0, y1 - y0};
}

bool is_eos(const Capture& c) {
  return lower_ascii(c.model).find("eos") != std::string::npos;
}

void af_from_points(const Points& p, Capture& c) {
  if (p.valid == 0) return;  // the camera says it knows no area (R6 in the reference files)
  if (!(p.image_width > 0 && p.image_height > 0)) {
    c.notes.push_back("AF area ignored: Canon AF image size is zero");
    return;
  }
  const std::size_t count = std::min({p.valid, p.x.size(), p.y.size()});
  const bool y_up = is_eos(c);
  const auto focused = set_bits(p.in_focus, count);
  if (!focused.empty()) {
    const Region box = around(p, focused, y_up);
    // Many scattered points say less about the subject than one.
    set_af(c, box, box.area() < .1 ? .9 : .6, "Canon AF points in focus");
    return;
  }
  // Nothing confirmed: where the photographer pointed still says something, unless it was "everywhere".
  const auto chosen = set_bits(p.selected, count);
  if (chosen.empty() || chosen.size() > 9) return;
  set_af(c, around(p, chosen, y_up), .5, "Canon AF points selected, focus not confirmed");
}

Ints list(const TagView& tags, std::string_view key) {
  return tags.ints(key).value_or(Ints{});
}

bool read_af_info2(const TagView& tags, Capture& c) {
  const auto valid = integer(tags, "Canon.AFValidPoints");
  if (!valid) return false;
  Points p;
  p.valid = *valid > 0 ? static_cast<std::size_t>(*valid) : 0;
  p.image_width = static_cast<double>(integer(tags, "Canon.AFImageWidth").value_or(0));
  p.image_height = static_cast<double>(integer(tags, "Canon.AFImageHeight").value_or(0));
  p.x = list(tags, "Canon.AFXPositions");
  p.y = list(tags, "Canon.AFYPositions");
  p.w = list(tags, "Canon.AFAreaWidths");
  p.h = list(tags, "Canon.AFAreaHeights");
  p.in_focus = list(tags, "Canon.AFPointsInFocus");
  p.selected = list(tags, "Canon.AFPointsSelected");
  af_from_points(p, c);
  return true;
}

std::int64_t as_signed(std::int64_t v) {
  return v > 32767 && v <= 65535 ? v - 65536 : v;
}

// AFInfo3 comes undecoded: 0 size, 1 area mode, 2 points, 3 valid points, 4-5 image, 6-7 AF image, then
// width, height, x and y of every point, then the bits in focus.
bool read_af_info3(const TagView& tags, Capture& c) {
  const Ints all = list(tags, "Canon.AFInfo3");
  if (all.size() < 9 || all[2] <= 0 || all[2] > 2000) return false;
  const auto count = static_cast<std::size_t>(all[2]);
  const std::size_t words = (count + 15) / 16;
  if (all.size() < 8 + 4 * count + words) return false;
  const auto part = [&](std::size_t which) {
    const auto from = all.begin() + static_cast<std::ptrdiff_t>(8 + which * count);
    Ints out(from, from + static_cast<std::ptrdiff_t>(count));
    std::transform(out.begin(), out.end(), out.begin(), as_signed);
    return out;
  };
  Points p;
  p.valid = static_cast<std::size_t>(std::clamp<std::int64_t>(all[3], 0, all[2]));
  p.image_width = static_cast<double>(all[6]);
  p.image_height = static_cast<double>(all[7]);
  p.w = part(0);
  p.h = part(1);
  p.x = part(2);
  p.y = part(3);
  const auto bits = all.begin() + static_cast<std::ptrdiff_t>(8 + 4 * count);
  p.in_focus.assign(bits, bits + static_cast<std::ptrdiff_t>(words));
  af_from_points(p, c);
  return true;
}

// Element `i` of the 16-bit array 0x0012. exiv2 names a few elements after other models' layouts.
std::optional<std::int64_t> old_element(const TagView& tags, std::size_t i) {
  switch (i) {
    case 0:  // missing in CRW files, where it equals the number of valid points as far as seen
      if (const auto v = integer(tags, "CanonPi.0x0000")) return v;
      return integer(tags, "CanonPi.0x0001");
    case 2:
      return integer(tags, "CanonPi.ImageWidth");
    case 3:
      return integer(tags, "CanonPi.ImageHeight");
    case 4:
      return integer(tags, "CanonPi.ImageWidthAsShot");
    case 5:
      return integer(tags, "CanonPi.ImageHeightAsShot");
    case 22:
      return integer(tags, "CanonPi.AFPointsUsed");
    case 26:
      return integer(tags, "CanonPi.AFPointsUsed20D");
    default:
      break;
  }
  std::array<char, 24> key{};
  std::snprintf(key.data(), key.size(), "CanonPi.0x%04x", static_cast<unsigned>(i));
  return integer(tags, key.data());
}

// 0 points, 1 valid points, 2-3 image, 4-5 AF image, 6-7 area size, then x of every point, y of every point,
// and the in-focus bits.
void read_af_info(const TagView& tags, Capture& c) {
  const auto points = old_element(tags, 0);
  if (!points || *points <= 0 || *points > 64) return;
  const auto count = static_cast<std::size_t>(*points);
  Ints all;
  for (std::size_t i = 0; i < 8 + 2 * count + (count + 15) / 16; ++i) {
    const auto v = old_element(tags, i);
    if (!v) return;
    all.push_back(*v);
  }
  Points p;
  p.valid = static_cast<std::size_t>(std::clamp<std::int64_t>(all[1], 0, *points));
  p.image_width = static_cast<double>(all[4]);
  p.image_height = static_cast<double>(all[5]);
  p.w.assign(count, all[6]);
  p.h.assign(count, all[7]);
  for (std::size_t i = 0; i < count; ++i) {
    p.x.push_back(as_signed(all[8 + i]));
    p.y.push_back(as_signed(all[8 + count + i]));
  }
  p.in_focus.assign(all.begin() + static_cast<std::ptrdiff_t>(8 + 2 * count), all.end());
  af_from_points(p, c);
}

DriveMode drive(const TagView& tags) {
  const auto mode = integer(tags, "CanonCs.DriveMode");
  if (!mode) return DriveMode::unknown;
  switch (*mode) {
    case 0: {
      const auto delay = integer(tags, "CanonCs.Selftimer");
      return delay && *delay > 0 ? DriveMode::self_timer : DriveMode::single;
    }
    case 6:
    case 9:
      return DriveMode::single;  // silent
    case 1:
    case 3:
    case 4:
    case 5:
    case 8:
    case 10:
      return DriveMode::continuous;
    default:
      return DriveMode::unknown;
  }
}

bool any_of(const std::string& model, std::initializer_list<const char*> names) {
  return std::any_of(names.begin(), names.end(),
                     [&](const char* n) { return model.find(n) != std::string::npos; });
}

// 0x0008 is folder * 10000 + file. Two generations of bodies pack the number into 0x0093 instead, its bits in
// two different orders (exiftool's tag table). Later bodies keep it in a block whose layout changes with
// every model.
std::optional<std::uint32_t> file_number(const TagView& tags, const std::string& model) {
  std::int64_t n = integer(tags, "Canon.FileNumber").value_or(0) % 10000;
  if (n <= 0) {
    const std::int64_t v = integer(tags, "CanonFi.FileNumber").value_or(0);
    if (any_of(model, {"20D", "350D", "REBEL XT", "Kiss Digital N"}) && !any_of(model, {"REBEL XTi"}))
      n = (v >> 16 & 0xff) + (v & 0x3f) * 256;
    else if (any_of(model, {"30D", "400D", "REBEL XTi", "Kiss Digital X"}))
      n = (v & 0x3ff) * 16 + (v >> 20 & 0x0f);
  }
  if (n < 1 || n > 9999) return std::nullopt;
  return static_cast<std::uint32_t>(n);
}

// Centimetres, two ends of a step of the lens's scale; 0 unknown, 65535 (-1 where exiv2 takes it for signed)
// infinity. EOS bodies write them to 0x0093, older ones and compacts to 0x0004, these often without a second
// end. Which end is which differs by model (exiftool's tag table).
bool read_distance(const TagView& tags, const char* upper_key, const char* lower_key, Capture& c) {
  const auto end = [&](const char* key) { return integer(tags, key).value_or(0) & 0xffff; };
  constexpr std::int64_t kInfinity = 65534;
  const std::int64_t upper = end(upper_key), lower = end(lower_key);
  if (upper == 0) return false;
  if (upper >= kInfinity || lower >= kInfinity) return true;  // known to be far, and no more
  const auto metres = [](std::int64_t cm) { return static_cast<double>(cm) / 100; };
  if (lower > 0)
    set_distance_between(c, metres(lower), metres(upper), "Canon focus distance");
  else
    set_distance(c, metres(upper), "Canon focus distance");
  return true;
}

bool matches(std::string_view make) {
  return make.starts_with("canon");
}

void read(const TagView& tags, Capture& c) {
  if (!read_af_info2(tags, c) && !read_af_info3(tags, c)) read_af_info(tags, c);
  if (!read_distance(tags, "CanonFi.FocusDistanceUpper", "CanonFi.FocusDistanceLower", c))
    read_distance(tags, "CanonSi.SubjectDistance", "CanonSi.0x0014", c);
  c.drive = drive(tags);
  set_count(c.sequence_number, tags, "CanonSi.Sequence", 1, 9999);
  c.file_number = file_number(tags, c.model);
  // On compact cameras the same tag holds a number of unknown meaning.
  if (c.serial.empty() && is_eos(c))
    if (const auto n = integer(tags, "Canon.SerialNumber"); n && *n > 0) {
      std::array<char, 24> text{};
      std::snprintf(text.data(), text.size(), "%010lld", static_cast<long long>(*n));
      c.serial = text.data();
    }
  set_text(c.lens, tags, "Canon.LensModel");
}

}  // namespace

extern const Maker canon;
const Maker canon{"canon", matches, read};

}  // namespace burstsieve::camera::maker
