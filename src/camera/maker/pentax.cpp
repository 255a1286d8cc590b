// Pentax and Ricoh. exiv2 calls the same note "Pentax" or "PentaxDng" by the file it stands in. AF points are
// numbers; only the centre has a place that does not depend on the AF module.
#include <string>

#include "burstsieve/base/text.h"
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

std::string group(const TagView& tags) {
  for (const char* g : {"PentaxDng", "Pentax"})
    if (tags.ints(std::string(g) + ".DriveMode") || tags.bytes(std::string(g) + ".Date")) return g;
  return {};
}

// True when `name` stands in the model as a word: "k-3" is in "pentax k-3 mark iii" but not in "pentax k-30".
bool is_model(const std::string& model, const std::string& name) {
  const auto at = model.find(name);
  return at != std::string::npos && (at + name.size() == model.size() || model[at + name.size()] == ' ');
}

// K-3: one bit per point, bit 13 is the centre of 27. Others but the K-1: byte 11 of the AF block numbers the
// point, or pair of points, in focus; 5 and 19 are the horizontal and the vertical sensor of the centre
// (exiftool's tables).
void read_af(const TagView& tags, const std::string& g, Capture& c) {
  const std::string model = lower_ascii(c.model);
  bool in_focus = false;
  bool centre = false;
  if (is_model(model, "k-3")) {
    const auto bits = integer(tags, g + ".AFPointInFocus");
    in_focus = bits && *bits > 0;
    centre = bits && *bits == 1 << 13;
  } else if (!is_model(model, "k-1")) {
    const auto point = tags.bytes(g + ".AFInfo");
    in_focus = point && point->size() > 11 && (*point)[11] > 0;
    centre = in_focus && ((*point)[11] == 5 || (*point)[11] == 19);
  }
  if (centre)
    set_af_point(c, .5, .5, .8, "Pentax AF point in focus (centre)");
  else if (in_focus)
    c.notes.push_back("AF area unknown: no positions for the Pentax AF points in focus");
}

DriveMode drive(const TagView& tags, const std::string& g) {
  const auto v = tags.ints(g + ".DriveMode");
  if (!v || v->size() < 2) return DriveMode::unknown;
  if ((*v)[1] == 1 || (*v)[1] == 2) return DriveMode::self_timer;
  if (const auto bracket = integer(tags, g + ".AutoBracketing", 1); bracket && *bracket > 0)
    return DriveMode::bracket;
  switch ((*v)[0]) {
    case 0:
      return DriveMode::single;
    case 1:
    case 2:
    case 3:
    case 4:
      return DriveMode::continuous;
    default:
      return DriveMode::unknown;
  }
}

std::optional<std::uint32_t> big_endian(const TagView& tags, const std::string& key, std::size_t count) {
  const auto b = tags.bytes(key);
  if (!b || b->size() != count) return std::nullopt;
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v = v << 8 | (i < count ? (*b)[i] : 0u);
  return v;
}

// 0x005d is stored xor the date and the inverted time of the note itself.
void read_shutter_count(const TagView& tags, const std::string& g, Capture& c) {
  const auto stored = big_endian(tags, g + ".ShutterCount", 4);
  const auto date = big_endian(tags, g + ".Date", 4);
  const auto time = big_endian(tags, g + ".Time", 3);
  if (!stored || !date || !time) return;
  const std::uint32_t count = *stored ^ *date ^ ~*time;
  // No shutter lasts ten million releases: beyond that the key did not fit.
  if (count > 0 && count < 10'000'000)
    c.shutter_count = count;
  else
    c.notes.push_back("Pentax shutter count ignored: it does not decipher");
}

bool matches(std::string_view make) {
  return make.starts_with("pentax") || make.starts_with("ricoh") || make.starts_with("asahi");
}

void read(const TagView& tags, Capture& c) {
  const std::string g = group(tags);
  if (g.empty()) return;
  read_af(tags, g, c);
  c.drive = drive(tags, g);
  read_shutter_count(tags, g, c);
  set_text(c.serial, tags, g + ".SerialNumber");
}

}  // namespace

extern const Maker pentax;
const Maker pentax{"pentax", matches, read};

}  // namespace burstsieve::camera::maker
