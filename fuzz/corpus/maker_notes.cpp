// Tags no camera writes.
#include <limits>
#include <string>

#include "burstsieve/camera/maker.h"
#include "cases.h"
#include "support/note_tags.h"

namespace burstsieve::fuzz {
namespace {

constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
constexpr std::int64_t kLeast = std::numeric_limits<std::int64_t>::min();

ByteBuffer note(std::string_view maker, const NoteWriter& tags) {
  const auto makers = camera::makers();
  ByteBuffer out{0};
  while (makers[out[0]]->id != maker) ++out[0];
  out.insert(out.end(), tags.record().begin(), tags.record().end());
  return out;
}

NoteWriter frame() {
  NoteWriter w;
  w.ints("Image.ImageWidth", {6000}).ints("Image.ImageLength", {4000});
  return w;
}

NoteWriter canon(std::int64_t valid, std::int64_t width, std::int64_t height) {
  NoteWriter w = frame();
  w.text("Image.Model", "EOS Test").ints("Canon.AFValidPoints", {valid});
  w.ints("Canon.AFImageWidth", {width}).ints("Canon.AFImageHeight", {height});
  return w;
}

}  // namespace

void add_maker_notes(Cases& to) {
  const auto add = [&](const char* name, std::string_view maker, const NoteWriter& tags) {
    to.push_back({"maker_notes", name, note(maker, tags)});
  };
  add("af-grid-zero-wide.bin", "canon", canon(1, 0, 4000).ints("Canon.AFPointsInFocus", {1}));
  add("af-65535-points-but-one-place.bin", "canon",
      canon(65535, 6000, 4000)
          .ints("Canon.AFXPositions", {100})
          .ints("Canon.AFYPositions", {-100})
          .ints("Canon.AFAreaWidths", {300})
          .ints("Canon.AFAreaHeights", {300})
          .ints("Canon.AFPointsInFocus", std::vector<std::int64_t>(4096, -1)));
  add("af-points-without-sizes.bin", "canon",
      canon(2, 6000, 4000)
          .ints("Canon.AFXPositions", {1, 2})
          .ints("Canon.AFYPositions", {1, 2})
          .ints("Canon.AFPointsInFocus", {3}));
  add("af-negative-point-count.bin", "canon", canon(kLeast, kMost, kMost));
  add("af-info3-count-beyond-its-array.bin", "canon",
      frame().ints("Canon.AFInfo3", {96, 2, 2000, 2000, 6000, 4000, 6000, 4000, 5, 5}));
  add("canon-file-number-least-integer.bin", "canon",
      frame()
          .ints("Canon.FileNumber", {kLeast})
          .ints("CanonFi.FileNumber", {kLeast})
          .text("Image.Model", "EOS 20D"));
  add("sony-focus-outside-frame.bin", "sony", frame().ints("Sony2.0x2027", {6000, 4000, 60000, 40000}));
  add("sony-cipher-block-one-byte-short.bin", "sony",
      frame()
          .text("Image.Model", "ILCE-7M3")
          .bytes("Sony2.0x9400", ByteBuffer{0x23})
          .bytes("Sony2.0x9050", ByteBuffer(0x3d, 0xff)));
  add("nikon-rectangle-of-negative-bytes.bin", "nikon",
      frame()
          .ints("NikonAf2.ContrastDetectAF", {2})
          .bytes("NikonAf2.Version", ByteBuffer{'0', '3', '0', '1'})
          .ints("NikonAf2.0x001e", std::vector<std::int64_t>(24, -1)));
  add("nikon-area-larger-than-image.bin", "nikon",
      frame()
          .ints("NikonAf2.ContrastDetectAF", {1})
          .bytes("NikonAf2.Version", ByteBuffer{'0', '1', '0', '1'})
          .ints("NikonAf2.AFImageWidth", {1})
          .ints("NikonAf2.AFImageHeight", {1})
          .ints("NikonAf2.AFAreaWidth", {kMost})
          .ints("NikonAf2.AFAreaHeight", {kMost}));
  add("olympus-fraction-beyond-64-bits.bin", "olympus",
      frame().text("OlympusCs.AFPointSelected", "0/0 99999999999999999999/1 1/2 1/2 1/2"));
  add("olympus-fraction-cut-after-slash.bin", "olympus",
      frame().text("OlympusCs.AFPointSelected", "0/0 1/2 1/2 1/2 1/"));
  add("panasonic-sensor-borders-overflow.bin", "panasonic",
      NoteWriter()
          .ints("PanasonicRaw.SensorLeftBorder", {kLeast})
          .ints("PanasonicRaw.SensorTopBorder", {kLeast})
          .ints("PanasonicRaw.ImageWidth", {kMost})
          .ints("PanasonicRaw.ImageHeight", {kMost}));
  add("pentax-af-block-eleven-bytes.bin", "pentax",
      frame()
          .ints("Pentax.DriveMode", {0, 0, 0, 0})
          .bytes("Pentax.AFInfo", ByteBuffer(11, 5))
          .bytes("Pentax.Date", ByteBuffer(3, 1)));
  add("fujifilm-focus-pixel-without-image-size.bin", "fujifilm",
      NoteWriter().ints("Fujifilm.0x1023", {100, 100}));
  add("subject-area-of-nine-values.bin", "fujifilm",
      frame().ints("Photo.SubjectArea", std::vector<std::int64_t>(9, 100)));
  add("subject-rectangle-of-no-size.bin", "fujifilm", frame().ints("Photo.SubjectArea", {3000, 2000, 0, 0}));
  add("time-in-month-99.bin", "fujifilm", frame().text("Photo.DateTimeOriginal", "2026:99:39 29:59:60"));
  add("lens-name-of-60000-letters.bin", "panasonic",
      frame().text("Panasonic.LensType", std::string(60000, 'x')));
  add("serial-drives-the-terminal.bin", "panasonic",
      frame().text("Panasonic.InternalSerialNumber", "\x1b[2J\x1b]0;x\x07"));
  add("size-of-a-billion-pixels-a-side.bin", "sony",
      NoteWriter().ints("Image.ImageWidth", {1'000'000'000}).ints("Image.ImageLength", {1'000'000'000}));
}

}  // namespace burstsieve::fuzz
