// EXIF and maker notes of one file.
#pragma once
#include <string>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::decode {

// Reads what the camera recorded. Reads the first 256 KiB and falls back to the whole file only when needed.
// A damaged or missing part leaves its fields unset and adds a note; an Error comes back only when the file
// itself can't be read (io) or is over a limit. Thread-safe.
Result<Capture> read_capture(const FileRef& file, const Limits& limits);

}  // namespace burstsieve::decode
