// EXIF and maker notes of one file.
#pragma once
#include <cstddef>
#include <string>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::decode {

// Covers the directories and maker note of every camera file in our reference set but those that write them
// last.
inline constexpr std::size_t kMetadataHead = 256 * 1024;

// Reads what the camera recorded. Reads the first 256 KiB and falls back to the whole file only when needed:
// when the head is not the whole file and reading it failed, lost a tag, found none, or did not reach a
// JPEG's frame header. A damaged or missing part leaves its fields unset and adds a note; an Error comes back
// only when the file itself can't be read (io) or is over a limit. Thread-safe.
Result<Capture> read_capture(const FileRef& file, const Limits& limits);

// The same for any container the metadata reader knows, photograph or not (our checks read bare metadata
// files so). raw: whether the raw decoder may be asked for what is missing. head_bytes: what to read first.
Result<Capture> read_capture_at(const std::string& path, bool raw, const Limits& limits,
                                std::size_t head_bytes = kMetadataHead);

}  // namespace burstsieve::decode
