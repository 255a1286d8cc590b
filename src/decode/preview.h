// Finding the JPEGs embedded in a raw file without decoding anything.
#pragma once
#include <cstdint>
#include <optional>

#include "burstsieve/base/bytes.h"
#include "source_file.h"
#include "tiff.h"

namespace burstsieve::decode {

struct EmbeddedJpeg {
  std::uint64_t offset = 0;
  std::uint64_t size = 0;  // bytes set aside for it; its end marker may come earlier
  int width = 0, height = 0;
  std::uint64_t pixels() const {
    return static_cast<std::uint64_t>(width) * static_cast<std::uint64_t>(height);
  }
};

// The JPEG with most pixels that a directory points at. Nothing: none stands where a directory says.
std::optional<EmbeddedJpeg> largest_preview(const SourceFile& file, const TiffFile& tiff);

// The JPEG that `bytes` begin with.
std::optional<EmbeddedJpeg> preview_at_start(Bytes bytes);

// The JPEG with most pixels that starts anywhere in `bytes`: the last resort for a container unknown to us.
std::optional<EmbeddedJpeg> largest_preview(Bytes bytes);

}  // namespace burstsieve::decode
