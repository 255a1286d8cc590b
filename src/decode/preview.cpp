#include "preview.h"

#include <array>
#include <cstring>
#include <functional>
#include <span>

#include "tiff_tags.h"

namespace burstsieve::decode {
namespace {

constexpr int kMaxSegments = 200;  // before the frame header; profiles and previews in segments take dozens
constexpr int kMinSide = 16;
// Three given bytes come up by chance twice in 40 MB; more than this is an attack on time.
constexpr int kMaxCandidates = 1000;

using ReadAt = std::function<bool(std::uint64_t, std::span<std::uint8_t>)>;

// The size in the frame header of the JPEG at `offset`, if it is one that libjpeg can decode (ITU-T T.81,
// B.2.2: SOF0..2; lossless SOF3 is the mosaic itself).
std::optional<EmbeddedJpeg> probe(const ReadAt& read, std::uint64_t offset, std::uint64_t size) {
  std::array<std::uint8_t, 9> b{};
  if (size < 4 || !read(offset, std::span(b).first(2)) || b[0] != 0xFF || b[1] != 0xD8) return std::nullopt;
  std::uint64_t at = 2;
  for (int i = 0; i < kMaxSegments; ++i) {
    if (at + 4 > size || !read(offset + at, std::span(b).first(4)) || b[0] != 0xFF) return std::nullopt;
    if (b[1] == 0xFF) {  // fill byte
      ++at;
      continue;
    }
    const std::uint8_t marker = b[1];
    const std::uint64_t length = static_cast<std::uint64_t>(b[2]) << 8 | b[3];
    if (marker >= 0xC0 && marker <= 0xC2) {
      if (at + 9 > size || !read(offset + at, b) || b[4] != 8) return std::nullopt;
      const int height = b[5] << 8 | b[6];
      const int width = b[7] << 8 | b[8];
      if (width < kMinSide || height < kMinSide) return std::nullopt;
      return EmbeddedJpeg{offset, size, width, height};
    }
    const bool may_precede = marker == 0xC4 || (marker >= 0xDB && marker <= 0xFE);
    if (!may_precede || length < 2) return std::nullopt;
    at += 2 + length;
  }
  return std::nullopt;
}

ReadAt reader_of(Bytes bytes) {
  return [bytes](std::uint64_t at, std::span<std::uint8_t> out) {
    ByteReader in(bytes);
    if (!in.seek(at)) return false;
    const auto block = in.block(out.size());
    if (!block) return false;
    std::memcpy(out.data(), block->data(), out.size());
    return true;
  };
}

void keep_larger(std::optional<EmbeddedJpeg>& best, const std::optional<EmbeddedJpeg>& found) {
  if (found && (!best || found->pixels() > best->pixels())) best = found;
}

}  // namespace

std::optional<EmbeddedJpeg> largest_preview(const SourceFile& file, const TiffFile& tiff) {
  const ReadAt read = [&](std::uint64_t at, std::span<std::uint8_t> out) {
    return static_cast<bool>(file.read(at, out));
  };
  std::optional<EmbeddedJpeg> best;
  const auto consider = [&](std::uint64_t offset, std::uint64_t size) {
    if (offset == 0 || offset >= file.size()) return;
    keep_larger(best, probe(read, offset, std::min(size, file.size() - offset)));
  };
  for (const TiffDirectory& dir : tiff.directories()) {
    const auto jpeg = tiff.whole(dir, kJpegOffset);
    const auto jpeg_size = tiff.whole(dir, kJpegSize);
    if (jpeg && jpeg_size) consider(*jpeg, *jpeg_size);

    const auto compression = tiff.whole(dir, kCompression);
    const auto photometric = tiff.whole(dir, kPhotometric);
    const bool mosaic = photometric == kPhotometricCfa || photometric == kPhotometricLinearRaw;
    if ((compression == 6u || compression == 7u) && !mosaic) {
      const auto strip = tiff.whole(dir, kStripOffsets);
      const auto strip_size = tiff.whole(dir, kStripByteCounts);
      if (strip && strip_size) consider(*strip, *strip_size);
    }
    if (const TiffField* f = dir.find(kPanasonicJpeg)) consider(f->where, f->count);
  }
  return best;
}

std::optional<EmbeddedJpeg> preview_at_start(Bytes bytes) {
  return probe(reader_of(bytes), 0, bytes.size());
}

std::optional<EmbeddedJpeg> largest_preview(Bytes bytes) {
  const ReadAt read = reader_of(bytes);
  int candidates = 0;
  std::optional<EmbeddedJpeg> best;
  constexpr std::uint8_t start[3] = {0xFF, 0xD8, 0xFF};
  for (std::size_t at = 0; at + sizeof start < bytes.size() && candidates < kMaxCandidates; ++at) {
    const void* hit = std::memchr(bytes.data() + at, start[0], bytes.size() - at - sizeof start);
    if (!hit) break;
    at = static_cast<std::size_t>(static_cast<const std::uint8_t*>(hit) - bytes.data());
    if (std::memcmp(bytes.data() + at, start, sizeof start) != 0) continue;
    ++candidates;
    keep_larger(best, probe(read, at, bytes.size() - at));
  }
  return best;
}

}  // namespace burstsieve::decode
