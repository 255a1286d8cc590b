// A file on disk, and a frame: one release of the shutter, as a raw, a JPEG, or the pair.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/capture.h"

namespace burstsieve {

enum class FileKind { jpeg, raw };

struct FileRef {
  std::string path;  // as reached from the folder the user named; bytes, not necessarily UTF-8
  FileKind kind = FileKind::jpeg;
  std::string format;             // "JPEG", "CR2", "NEF", "DNG", ... by content
  std::uint64_t size = 0;         // bytes
  std::int64_t mtime_ns = 0;      // last change, nanoseconds since 1970
  std::uint64_t fingerprint = 0;  // XXH64 of the first and last 64 KiB
  bool operator==(const FileRef&) const = default;
};

struct Frame {
  std::optional<FileRef> raw;
  std::optional<FileRef> jpeg;
  std::vector<FileRef> copies;  // further files with the same bytes; they share this frame's verdict
  Capture capture;              // the raw's, when there is one
  int jpeg_orientation = 1;     // EXIF 1..8 of the JPEG, which may be turned already when its raw is not

  // The file a person knows the frame by: the raw when there is one.
  const FileRef& main() const { return raw ? *raw : *jpeg; }
};

// Frames of one camera in one press of the shutter, in capture order.
struct Burst {
  std::string camera;  // "Make Model #serial"
  std::vector<Frame> frames;
};

}  // namespace burstsieve
