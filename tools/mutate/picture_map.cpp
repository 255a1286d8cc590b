// Where the picture stands in a file. On its own and not by src/decode: what tests the engine must not share
// its mistakes.
#include <algorithm>
#include <cstring>
#include <optional>
#include <set>

#include "mutate.h"

namespace burstsieve::mutate {
namespace {

class Marks {
 public:
  explicit Marks(std::uint64_t size) : size_(size) {}
  void picture(std::uint64_t at, std::uint64_t count) {
    if (at >= size_ || count == 0) return;
    map_.picture.push_back({at, at + std::min(count, size_ - at)});
  }
  void number(std::uint64_t at, int width, ByteOrder order) {
    if (at + static_cast<std::uint64_t>(width) <= size_) map_.numbers.push_back({at, width, order});
  }
  PictureMap take() {
    std::sort(map_.picture.begin(), map_.picture.end(),
              [](const Range& a, const Range& b) { return a.begin < b.begin; });
    std::vector<Range> joined;
    for (const Range& r : map_.picture)
      if (!joined.empty() && r.begin <= joined.back().end)
        joined.back().end = std::max(joined.back().end, r.end);
      else
        joined.push_back(r);
    map_.picture = std::move(joined);
    map_.exact = true;
    return std::move(map_);
  }

 private:
  std::uint64_t size_;
  PictureMap map_;
};

// ITU-T T.81, B.1.1.
constexpr std::uint8_t kEnd = 0xd9, kScan = 0xda, kApp0 = 0xe0, kApp14 = 0xee, kApp15 = 0xef, kComment = 0xfe;

bool is_note(std::uint8_t marker) {
  return (marker > kApp0 && marker <= kApp15 && marker != kApp14) || marker == kComment;
}

// The end of the entropy-coded data that starts at `at`: a marker that is neither a stuffed byte nor a
// restart.
std::size_t end_of_scan(Bytes b, std::size_t at) {
  for (; at + 1 < b.size(); ++at)
    if (b[at] == 0xff && b[at + 1] != 0 && !(b[at + 1] >= 0xd0 && b[at + 1] <= 0xd7)) return at;
  return b.size();
}

PictureMap map_of_jpeg(Bytes b) {
  Marks marks(b.size());
  marks.picture(0, 2);
  std::size_t at = 2;
  while (at + 4 <= b.size() && b[at] == 0xff) {
    const std::uint8_t marker = b[at + 1];
    if (marker == 0xff) {  // a fill byte
      marks.picture(at++, 1);
      continue;
    }
    if (marker == kEnd) break;
    const auto length = static_cast<std::size_t>(b[at + 2] << 8 | b[at + 3]);
    marks.number(at + 2, 2, ByteOrder::big);
    const bool frame = marker >= 0xc0 && marker <= 0xc2;
    if (frame) {
      marks.number(at + 5, 2, ByteOrder::big);
      marks.number(at + 7, 2, ByteOrder::big);
    }
    marks.picture(at, is_note(marker) ? 4 : length + 2);
    at += 2 + std::max<std::size_t>(length, 2);
    if (marker != kScan) continue;
    const std::size_t end = end_of_scan(b, at);
    marks.picture(at, end - at);
    at = end;
  }
  marks.picture(at, 2);
  return marks.take();
}

// TIFF 6.0 section 2 and DNG 1.4.
enum Tag : std::uint16_t {
  kStripOffsets = 273,
  kStripByteCounts = 279,
  kTileOffsets = 324,
  kTileByteCounts = 325,
  kSubIfds = 330,
  kJpegOffset = 513,
  kJpegSize = 514,
  kDngVersion = 50706,
};

// Values that no pixel depends on: XMP, IPTC, another program's resources, Exif, GPS, the maker's private
// area.
bool is_note_tag(std::uint16_t tag) {
  return tag == 700 || tag == 33723 || tag == 34377 || tag == 34665 || tag == 34853 || tag == 50740;
}

class TiffMap {
 public:
  TiffMap(Bytes b, ByteOrder order) : b_(b), order_(order), marks_(b.size()) {}

  std::optional<PictureMap> run() {
    marks_.picture(0, 8);
    marks_.number(4, 4, order_);
    todo_.push_back(number(4, 4));
    for (std::size_t i = 0; i < todo_.size() && i < 64; ++i)
      if (seen_.insert(todo_[i]).second) directory(todo_[i]);
    if (!dng_) return std::nullopt;
    return marks_.take();
  }

 private:
  struct Entry {
    std::uint16_t tag = 0;
    std::uint64_t at = 0, count = 0, width = 0;  // of its values
  };

  std::uint64_t number(std::uint64_t at, std::uint64_t width) const {
    ByteReader in(b_, order_);
    if (!in.seek(at)) return 0;
    if (width == 2) {
      const auto v = in.u16();
      return v ? *v : 0u;
    }
    const auto v = in.u32();
    return v ? *v : 0u;
  }

  std::vector<std::uint64_t> values(const Entry& e) const {
    std::vector<std::uint64_t> out;
    if (e.width != 2 && e.width != 4) return out;
    for (std::uint64_t i = 0; i < std::min<std::uint64_t>(e.count, 1 << 16); ++i)
      out.push_back(number(e.at + i * e.width, e.width));
    return out;
  }

  void directory(std::uint64_t at) {
    if (at == 0 || at + 2 > b_.size()) return;
    const std::uint64_t count = number(at, 2);
    if (at + 2 + count * 12 + 4 > b_.size()) return;
    marks_.picture(at, 2 + count * 12 + 4);
    marks_.number(at, 2, order_);
    std::vector<Entry> entries;
    for (std::uint64_t i = 0; i < count; ++i) entries.push_back(entry(at + 2 + i * 12));
    data(entries, kStripOffsets, kStripByteCounts);
    data(entries, kTileOffsets, kTileByteCounts);
    data(entries, kJpegOffset, kJpegSize);
    for (const Entry& e : entries) {
      dng_ = dng_ || e.tag == kDngVersion;
      if (e.tag == kSubIfds)
        for (const std::uint64_t sub : values(e)) todo_.push_back(sub);
    }
    todo_.push_back(number(at + 2 + count * 12, 4));
  }

  Entry entry(std::uint64_t at) {
    constexpr std::uint8_t widths[] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4};
    Entry e;
    e.tag = static_cast<std::uint16_t>(number(at, 2));
    const std::uint64_t type = number(at + 2, 2);
    e.count = number(at + 4, 4);
    e.width = type < std::size(widths) ? widths[type] : 0;
    marks_.number(at + 2, 2, order_);
    marks_.number(at + 4, 4, order_);
    marks_.number(at + 8, 4, order_);
    e.at = e.count * e.width <= 4 ? at + 8 : number(at + 8, 4);
    if (!is_note_tag(e.tag)) marks_.picture(e.at, e.count * e.width);
    return e;
  }

  void data(const std::vector<Entry>& entries, Tag offsets, Tag sizes) {
    const auto find = [&](Tag tag) {
      return std::find_if(entries.begin(), entries.end(), [&](const Entry& e) { return e.tag == tag; });
    };
    if (find(offsets) == entries.end() || find(sizes) == entries.end()) return;
    const auto at = values(*find(offsets));
    const auto size = values(*find(sizes));
    for (std::size_t i = 0; i < std::min(at.size(), size.size()); ++i) marks_.picture(at[i], size[i]);
  }

  Bytes b_;
  ByteOrder order_;
  Marks marks_;
  std::vector<std::uint64_t> todo_;
  std::set<std::uint64_t> seen_;
  bool dng_ = false;
};

bool begins(Bytes b, std::string_view magic) {
  return b.size() >= magic.size() && std::memcmp(b.data(), magic.data(), magic.size()) == 0;
}

// Any header number of a format that is not walked: aligned words of its first kilobyte.
PictureMap whole(Bytes b) {
  PictureMap out;
  if (!b.empty()) out.picture.push_back({0, b.size()});
  for (std::uint64_t at = 0; at + 4 <= std::min<std::size_t>(b.size(), 1024); at += 4)
    out.numbers.push_back({at, 4, at % 8 == 0 ? ByteOrder::little : ByteOrder::big});
  return out;
}

}  // namespace

PictureMap map_of(Bytes photograph) {
  using namespace std::string_view_literals;
  if (begins(photograph, "\xff\xd8\xff"sv)) return map_of_jpeg(photograph);
  std::optional<PictureMap> dng;
  if (begins(photograph, "II*\0"sv)) dng = TiffMap(photograph, ByteOrder::little).run();
  if (begins(photograph, "MM\0*"sv)) dng = TiffMap(photograph, ByteOrder::big).run();
  return dng ? std::move(*dng) : whole(photograph);
}

bool touches_picture(const PictureMap& map, Bytes before, Bytes after) {
  return std::any_of(map.picture.begin(), map.picture.end(), [&](const Range& r) {
    if (r.end > after.size() || r.end > before.size()) return true;
    return std::memcmp(before.data() + r.begin, after.data() + r.begin,
                       static_cast<std::size_t>(r.end - r.begin)) != 0;
  });
}

}  // namespace burstsieve::mutate
