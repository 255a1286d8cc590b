// Panasonic, and Leica bodies that carry a Panasonic maker note. AFPointPosition (0x004d) is a fraction of
// the frame; 16777216 or more means none.
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/maker.h"

namespace burstsieve::camera::maker {
namespace {

void read_af(const TagView& tags, Capture& c) {
  const auto p = tags.numbers("Panasonic.AFPointPosition");
  if (!p || p->size() != 2) return;
  const double x = (*p)[0];
  const double y = (*p)[1];
  if (!(x > 0 && x < 1 && y > 0 && y < 1)) return;  // "none", or a body that writes something else
  set_af_point(c, x, y, x == .5 && y == .5 ? .4 : .8, "Panasonic AF point");
}

DriveMode drive(const TagView& tags) {
  if (const auto timer = integer(tags, "Panasonic.SelfTimer"); timer && *timer > 1)
    return DriveMode::self_timer;
  const auto burst = integer(tags, "Panasonic.BurstMode");
  if (!burst) return DriveMode::unknown;
  switch (*burst) {
    case 0:
      return DriveMode::single;
    case 1:
    case 4:
    case 17:
      return DriveMode::continuous;
    case 2:
    case 3:
    case 8:
    case 18:
      return DriveMode::bracket;
    default:
      return DriveMode::unknown;
  }
}

bool matches(std::string_view make) {
  return make.starts_with("panasonic") || make.starts_with("leica");
}

void read(const TagView& tags, Capture& c) {
  read_af(tags, c);
  c.drive = drive(tags);
  set_count(c.sequence_number, tags, "Panasonic.SequenceNumber", 1, 99999);  // 0 outside a run
  set_text(c.serial, tags, "Panasonic.InternalSerialNumber");
  set_text(c.lens, tags, "Panasonic.LensType");
}

}  // namespace

extern const Maker panasonic;
const Maker panasonic{"panasonic", matches, read};

}  // namespace burstsieve::camera::maker
