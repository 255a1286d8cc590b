// Promise: whatever tags a file holds, every maker leaves a sound Capture: an area inside the frame or none,
// counts in range, clean notes.
//
// Input: a byte that chooses the maker, then a record of tags (support/note_tags.h).
#include "burstsieve/camera/exif_af.h"
#include "burstsieve/camera/maker.h"
#include "burstsieve/decode/exif_fields.h"
#include "support/capture_promises.h"
#include "support/note_tags.h"
#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const fuzz::NoteTags tags(Bytes(data + 1, size - 1));
  const auto makers = camera::makers();
  Capture c;
  // As decode::read_capture does it.
  decode::read_exif_fields(tags, {}, c);
  makers[data[0] % makers.size()]->read(tags, c);
  if (!c.af) camera::read_exif_af(tags, c);
  if (c.lens.empty()) c.lens = decode::lens_by_numbers(tags);
  fuzz::require_sound(c);
  fuzz::came_out(c.af ? "area" : c.notes.empty() ? "no area" : "no area, noted");
  return 0;
}
