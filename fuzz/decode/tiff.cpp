// Promise: the directories of any bytes are walked in bounded time; every value is inside the file, every
// preview too, and a mosaic that is called plain can be read or refused, never misread.
#include "tiff.h"

#include <cmath>

#include "mosaic_layout.h"
#include "preview.h"
#include "support/memory_file.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::decode;

namespace {

bool inside(const cv::Rect& r, cv::Size s) {
  return r.x >= 0 && r.y >= 0 && r.width > 0 && r.height > 0 && r.width <= s.width - r.x &&
         r.height <= s.height - r.y;
}

void read_values(const TiffFile& tiff) {
  for (const TiffDirectory& dir : tiff.directories())
    for (const TiffField& f : dir.fields) {
      const auto all = tiff.numbers(dir, f.tag, 65'536);
      fuzz::require(!all || all->size() <= 65'536, "no more values than were asked for");
      const auto one = tiff.whole(dir, f.tag);
      fuzz::require(!one || *one <= 0xffffffffu, "a whole number has 32 bits");
    }
}

const char* read_plain(const SourceFile& file, const PlainDng& dng) {
  const MosaicLayout& l = dng.layout;
  fuzz::require(inside(l.active, l.stored), "the active area lies in the sensor");
  fuzz::require(inside(l.frame, l.active.size()), "the picture lies in the active area");
  for (std::size_t c = 0; c < 3; ++c)
    fuzz::require(std::isfinite(l.black[c]) && std::isfinite(l.white[c]) && std::isfinite(l.gain[c]) &&
                      l.gain[c] > 0 && l.white[c] > 0,
                  "levels and gains are finite");
  const cv::Rect where = l.under({.25, .25, .5, .5}, 6);
  fuzz::require(where.empty() || inside(where, l.active.size()), "a region of the picture lies in it");
  const cv::Rect all = l.frame + l.active.tl();
  const auto values = dng.read(file, all);
  if (!values) {
    static_cast<void>(values.error());
    return ", mosaic unreadable";
  }
  fuzz::require(values->size() == all.size() && values->type() == CV_16UC1, "a mosaic is as large as asked");
  fuzz::require(2 * static_cast<std::uint64_t>(all.area()) <= file.size(), "photosites come from the file");
  return ", mosaic";
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::MemoryFile bytes(Bytes(data, size));
  const auto file = SourceFile::open(bytes.path(), Limits{});
  fuzz::require(static_cast<bool>(file), "a memory file opens");
  const auto tiff = TiffFile::open(*file);
  if (!tiff) {
    fuzz::refused(tiff.error());
    return 0;
  }
  std::string words = "accepted";
  fuzz::require(!tiff->directories().empty() && tiff->directories().size() <= 64, "directories are few");
  read_values(*tiff);
  if (const auto frame = dng_frame(*tiff, {640, 480}))
    fuzz::require(inside(*frame, {640, 480}), "a crop lies in the active area");
  if (const auto preview = largest_preview(*file, *tiff)) {
    fuzz::require(preview->offset < size && preview->size <= size - preview->offset,
                  "a preview lies in the file");
    fuzz::require(preview->width >= 16 && preview->height >= 16, "a preview is no speck");
    words += ", preview";
  }
  if (const auto dng = plain_dng(*tiff)) words += read_plain(*file, *dng);
  fuzz::came_out(words);
  return 0;
}
