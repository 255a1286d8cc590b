// Sony. FocusLocation (0x2027) holds the image size and the point; exiv2 0.27 does not name it. Two blocks,
// 0x9050 with the shutter count and 0x9400 with the place in a run, are enciphered byte by byte: c = b^3 mod
// 249 for b < 249 (exiftool's documentation of the cipher and of the places inside the blocks).
#include <array>
#include <cmath>
#include <initializer_list>
#include <string>

#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/focus_distance.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

std::optional<std::vector<std::int64_t>> either(const TagView& tags, const char* one, const char* two) {
  auto v = tags.ints(one);
  return v ? v : tags.ints(two);
}

void read_af(const TagView& tags, Capture& c) {
  const auto v = either(tags, "Sony2.0x2027", "Sony1.0x2027");
  if (!v) return;
  if (v->size() != 4 || (*v)[0] <= 0 || (*v)[1] <= 0) {
    c.notes.push_back("AF area ignored: Sony focus location has no image size");
    return;
  }
  const auto at = [&](std::size_t i) { return static_cast<double>((*v)[i]); };
  // Without a focus location the camera writes the exact centre: a hint only.
  const bool centre = at(2) * 2 == at(0) && at(3) * 2 == at(1);
  const double x = at(2) / at(0);
  const double y = at(3) / at(1);
  // 0x2037: width, height, and a third value that is zero when there is no frame.
  const auto frame = either(tags, "Sony2.0x2037", "Sony1.0x2037");
  if (frame && frame->size() == 3 && (*frame)[2] != 0 && (*frame)[0] > 0 && (*frame)[1] > 0) {
    const double w = static_cast<double>((*frame)[0]) / at(0);
    const double h = static_cast<double>((*frame)[1]) / at(1);
    set_af(c, {x - w / 2, y - h / 2, w, h}, .9, "Sony focus frame");
  } else {
    set_af_point(c, x, y, centre ? .3 : .8, "Sony focus location");
  }
}

DriveMode drive(const TagView& tags) {
  const auto mode = either(tags, "Sony2.ReleaseMode", "Sony1.ReleaseMode");
  if (!mode || mode->empty()) return DriveMode::unknown;
  switch (mode->front()) {
    case 0: {
      const auto timer = integer(tags, "Sony2010e.SelfTimer");
      return timer && (*timer == 1 || *timer == 2) ? DriveMode::self_timer : DriveMode::single;
    }
    case 2:
      return DriveMode::continuous;
    case 5:
    case 6:
    case 8:
      return DriveMode::bracket;
    default:
      return DriveMode::unknown;
  }
}

constexpr std::array<std::uint8_t, 256> decipher_table() {
  std::array<std::uint8_t, 256> plain{};
  for (unsigned b = 0; b < 256; ++b) plain[b] = static_cast<std::uint8_t>(b);
  for (unsigned b = 0; b < 249; ++b) plain[b * b * b % 249] = static_cast<std::uint8_t>(b);
  return plain;
}

using Block = std::vector<std::uint8_t>;

// Deciphered little-endian 32-bit number at `at`.
std::optional<std::uint32_t> deciphered(const Block& block, std::size_t at) {
  static constexpr auto plain = decipher_table();
  if (block.size() < 4 || at > block.size() - 4) return std::nullopt;
  std::uint32_t v = 0;
  for (std::size_t i = 4; i-- > 0;) v = v << 8 | plain[block[at + i]];
  return v;
}

Block block_of(const TagView& tags, const char* one, const char* two) {
  auto b = tags.bytes(one);
  if (!b) b = tags.bytes(two);
  return b.value_or(Block{});
}

bool begins_with(const std::string& model, std::initializer_list<const char*> names) {
  for (const char* name : names)
    if (model.starts_with(name)) return true;
  return false;
}

// Where 0x9050 keeps the count depends on the generation of the body; those not listed are not read.
std::optional<std::size_t> shutter_count_place(const std::string& model) {
  if (begins_with(model,
                  {"ILCE-6100", "ILCE-6300", "ILCE-6400", "ILCE-6500", "ILCE-6600", "ILCE-7C", "ILCE-7M3",
                   "ILCE-7RM2", "ILCE-7RM3", "ILCE-7RM4", "ILCE-7SM2", "ILCE-9", "ILCA-99M2", "ZV-E10"}))
    return 0x3a;
  for (const char* name : {"ILCE-7", "ILCE-7R", "ILCE-7S", "ILCE-7M2", "ILCE-5000", "ILCE-5100", "ILCE-6000",
                           "ILCE-QX1", "ILCE-3000", "ILCE-3500"})
    if (model == name) return 0x32;
  if (begins_with(model, {"NEX-", "SLT-", "ILCA-68", "ILCA-77M2"})) return 0x32;
  return std::nullopt;
}

// Where 0x9400 keeps the place in the run, by the block's first byte as stored; nothing for a layout not
// known.
std::optional<std::size_t> run_place(const Block& block) {
  if (block.empty()) return std::nullopt;
  switch (block[0]) {
    case 0x07:
    case 0x09:
    case 0x0a:
    case 0x0c:
      return 0x08;
    case 0x23:
    case 0x24:
    case 0x26:
    case 0x28:
    case 0x31:
    case 0x32:
      return 0x12;
    default:
      return std::nullopt;
  }
}

std::optional<std::uint32_t> place_in_run(const Block& block) {
  const auto place = run_place(block);
  const auto v = place ? deciphered(block, *place) : std::nullopt;
  if (!v || *v >= 65534) return std::nullopt;
  return *v + 1;  // it counts from 0
}

void read_shutter_count(const TagView& tags, Capture& c) {
  const auto place = shutter_count_place(c.model);
  // Some files of a listed body hold these blocks in a form we don't know: 0x9400 then starts with no known
  // byte, and the count comes out at random (exiv2-bug1153J*.exv).
  if (!place || !run_place(block_of(tags, "Sony2.0x9400", "Sony1.0x9400"))) return;
  const auto v = deciphered(block_of(tags, "Sony2.0x9050", "Sony1.0x9050"), *place);
  if (!v) return;
  const std::uint32_t count = *v & 0xffffff;
  // No shutter reaches more.
  if (count > 0 && count < 2'000'000) c.shutter_count = count;
}

// The focusing group's position p: magnification 2^-(p/16 - 5) of the 35 mm equivalent focal length, 255 for
// infinity; values below 80 come from lenses, or files, that do not say it (exiftool's composite tag).
void read_distance(const TagView& tags, Capture& c) {
  const auto p = integer(tags, "Sony2Fp.FocusPosition2");
  const auto equivalent = integer(tags, "Photo.FocalLengthIn35mmFilm");
  if (!p || *p < 80 || *p >= 255 || !equivalent || *equivalent <= 0 || *equivalent > 5000) return;
  const auto metres = [&](double n) {
    return (std::exp2(n / 16 - 5) + 1) * static_cast<double>(*equivalent) / 1000;
  };
  const auto n = static_cast<double>(*p);
  if (set_distance(c, metres(n), "Sony focus position, approximate")) {
    c.distance->nearest = metres(n - .5);
    c.distance->farthest = metres(n + .5);
  }
}

bool matches(std::string_view make) {
  return make.starts_with("sony");
}

void read(const TagView& tags, Capture& c) {
  read_af(tags, c);
  read_distance(tags, c);
  c.drive = drive(tags);
  // 0 = not in a run, 65535 = not available.
  set_count(c.sequence_number, tags, "Sony1.SequenceNumber", 1, 65534);
  set_count(c.sequence_number, tags, "Sony2.SequenceNumber", 1, 65534);
  if (!c.sequence_number && c.drive == DriveMode::continuous) {
    c.sequence_number = place_in_run(block_of(tags, "Sony2.0x9400", "Sony1.0x9400"));
    // The block 0x2010 of some bodies has it too, counted from 0.
    if (const auto n = integer(tags, "Sony2010e.SequenceImageNumber");
        !c.sequence_number && n && *n >= 0 && *n < 65534)
      c.sequence_number = static_cast<std::uint32_t>(*n + 1);
  }
  read_shutter_count(tags, c);
}

}  // namespace

extern const Maker sony;
const Maker sony{"sony", matches, read};

}  // namespace burstsieve::camera::maker
