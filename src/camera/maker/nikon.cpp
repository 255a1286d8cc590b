// Nikon. Live view and mirrorless bodies state the focus rectangle; the viewfinder bodies state a point
// number whose place depends on the AF module. Of those only point 1, the centre of every module, is placed;
// a table of the others would be a guess about the module's size inside the frame.
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/focus_distance.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

// A focus rectangle: centre and size in pixels of an image of the given size.
struct Rectangle {
  std::int64_t image_w = 0, image_h = 0, x = 0, y = 0, w = 0, h = 0;
  bool stated() const { return image_w > 0 && image_h > 0 && w > 0 && h > 0; }
};

bool use(const Rectangle& r, double confidence, Capture& c, const char* source) {
  if (!r.stated()) return false;
  const auto iw = static_cast<double>(r.image_w);
  const auto ih = static_cast<double>(r.image_h);
  const double w = static_cast<double>(r.w) / iw;
  const double h = static_cast<double>(r.h) / ih;
  const double x = static_cast<double>(r.x) / iw;
  const double y = static_cast<double>(r.y) / ih;
  return set_af(c, {x - w / 2, y - h / 2, w, h}, confidence, source);
}

Rectangle named(const TagView& tags, const std::string& group) {
  const auto get = [&](const char* name) { return integer(tags, group + name).value_or(0); };
  return {get(".AFImageWidth"),    get(".AFImageHeight"), get(".AFAreaXPosition"),
          get(".AFAreaYPosition"), get(".AFAreaWidth"),   get(".AFAreaHeight")};
}

// Six little-endian shorts from byte `at`.
Rectangle packed(const std::vector<std::int64_t>& bytes, std::size_t at) {
  std::array<std::int64_t, 6> v{};
  if (bytes.size() < at + 12) return {};
  for (std::size_t i = 0; i < 6; ++i) {
    const std::int64_t low = bytes[at + 2 * i];
    const std::int64_t high = bytes[at + 2 * i + 1];
    if (low < 0 || low > 255 || high < 0 || high > 255) return {};
    v[i] = low | high << 8;
  }
  return {v[0], v[1], v[2], v[3], v[4], v[5]};
}

std::string version(const TagView& tags, const std::string& group) {
  std::string out;
  for (const std::uint8_t b : tags.bytes(group + ".Version").value_or(std::vector<std::uint8_t>{}))
    out += static_cast<char>(b);
  return out;
}

void af_point(std::optional<std::int64_t> primary, Capture& c) {
  if (!primary || *primary <= 0) return;  // 0: none in focus
  if (*primary == 1) {
    set_af_point(c, .5, .5, .8, "Nikon primary AF point (centre)");
    return;
  }
  c.notes.push_back("AF area unknown: no positions for Nikon AF point " + std::to_string(*primary));
}

// AFInfo2 0100 (to about 2017), 0101 (D5, D500, D850, D3400 ...), 03xx (Z).
void read_af(const TagView& tags, Capture& c) {
  const std::string group = integer(tags, "NikonAf22.ContrastDetectAF") ? "NikonAf22" : "NikonAf2";
  const auto contrast = integer(tags, group + ".ContrastDetectAF");
  if (!contrast) return;
  const std::string v = version(tags, group);
  if (v.starts_with("03")) {
    // exiv2 0.27 reads the older layout here; the rectangle lies at byte 0x2a, in its leftover array from
    // 0x1e. In mode 1 of version 0300 exiftool does not trust the position: it has only been seen at the
    // centre.
    const bool trusted = *contrast == 2 || v != "0300";
    const auto rest = tags.ints(group + ".0x001e");
    if (rest) use(packed(*rest, 0x2a - 0x1e), trusted ? .9 : .4, c, "Nikon AF area");
    return;
  }
  if (v != "0100" && v != "0101") {
    c.notes.push_back("AF area unknown: Nikon AF note version not known");
    return;
  }
  if (*contrast == 1) {
    use(named(tags, group), .9, c, "Nikon AF area (live view)");
  } else if (v == "0100") {
    af_point(integer(tags, group + ".PrimaryAFPoint"), c);
  } else {
    // 0101 moved the number to byte 0x44, which exiv2 0.27 leaves in an unnamed array from byte 0x0f.
    af_point(integer(tags, group + ".0x000f", 0x44 - 0x0f), c);
  }
}

// AFInfo (0x0088) of the bodies before AFInfo2: point 0 is the centre; used only when it is in focus.
void read_old_af(const TagView& tags, Capture& c) {
  const auto bits = integer(tags, "NikonAf.AFPointsInFocus");
  if (!bits) return;
  // exiv2 reads this short as big-endian, some bodies write it little-endian: bit 0 in either byte is the
  // centre.
  if (*bits == 0x0001 || *bits == 0x0100) set_af_point(c, .5, .5, .7, "Nikon AF point in focus (centre)");
}

// The lens data state the distance as a whole number v: 10^(v/40) cm, steps of 6 %, 0 for infinity; "not very
// accurate for some lenses" (exiftool's tag table). What a Z lens writes elsewhere is not read: exiv2 does
// not decode the field that tells infinity there.
void read_distance(const TagView& tags, Capture& c) {
  for (const char* key : {"NikonLd2.FocusDistance", "NikonLd3.FocusDistance", "NikonLd4.FocusDistance"}) {
    const auto v = integer(tags, key);
    if (!v || *v <= 0 || *v > 255) continue;
    const auto metres = [&](double n) { return .01 * std::pow(10, n / 40); };
    const auto n = static_cast<double>(*v);
    if (set_distance(c, metres(n), "Nikon lens data, approximate")) {
      c.distance->nearest = metres(n - .5);
      c.distance->farthest = metres(n + .5);
    }
    return;
  }
}

DriveMode drive(const TagView& tags) {
  const auto bits = integer(tags, "Nikon3.ShootingMode");
  if (!bits || *bits < 0) return DriveMode::unknown;
  if (*bits & 0x150) return DriveMode::bracket;  // exposure 4, white balance 6, lighting 8
  if (*bits & 0x001) return DriveMode::continuous;
  if (*bits & 0x008) return DriveMode::self_timer;
  return DriveMode::single;
}

bool matches(std::string_view make) {
  return make.starts_with("nikon");
}

void read(const TagView& tags, Capture& c) {
  read_af(tags, c);
  if (!c.af) read_old_af(tags, c);
  read_distance(tags, c);
  c.drive = drive(tags);
  set_count(c.shutter_count, tags, "Nikon3.ShutterCount", 1, 100'000'000);
  set_count(c.file_number, tags, "NikonFi.FileNumber", 1, 9999);
  set_text(c.serial, tags, "Nikon3.SerialNumber");
  set_text(c.serial, tags, "Nikon3.SerialNO");
  if (c.serial.starts_with("NO=")) {
    c.serial.erase(0, 3);
    while (!c.serial.empty() && c.serial.front() == ' ') c.serial.erase(0, 1);
  }
}

}  // namespace

extern const Maker nikon;
const Maker nikon{"nikon", matches, read};

}  // namespace burstsieve::camera::maker
