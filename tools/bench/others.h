// What ours is held against.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/model/frame.h"

namespace burstsieve::bench {

// The JPEG that ours decodes: the file, or the largest one embedded in a raw. Empty: none.
std::vector<std::uint8_t> jpeg_of(const FileRef& file);

// One libjpeg-turbo decode of the luma alone (JCS_GRAYSCALE) into a row buffer, from the file when `path` is
// not empty, else from `jpeg`. Returns a checksum; 0 when it failed.
std::uint64_t luma_decode(const std::string& path, const std::vector<std::uint8_t>& jpeg);

// The straightforward way with stock libraries: the whole frame in colour (raw: LibRaw unpack and AHD
// demosaic), variance of the Laplacian over all of it, a DCT hash. Returns a checksum; 0 when it failed.
std::uint64_t naive_frame(const FileRef& file);

}  // namespace burstsieve::bench
