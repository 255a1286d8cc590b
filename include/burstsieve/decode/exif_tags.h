// One file's tags, read by exiv2, behind the TagView the camera module asks.
#pragma once
#include <memory>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/camera/tag_view.h"
#include "burstsieve/decode/exif_fields.h"
#include "burstsieve/decode/exiv2_gate.h"

namespace burstsieve::decode {

struct LoadedTags {
  std::unique_ptr<camera::TagView> tags;  // never null
  std::size_t count = 0;                  // tags read
  StoredSize pixels;                      // as exiv2 sees the image; for a JPEG from its frame header
  bool jpeg = false;
  bool preview_only = false;  // the tags are those of the embedded preview (RAF): its size is not the raw's
  std::string failure;        // why reading stopped, one line; empty when it went to the end
  Exiv2Complaints complaints;
};

// exiv2's printed forms are never asked for: its lens tables read the user's own exiv2 settings, so that the
// answer would depend on who runs us, and look the home directory up through a socket, which the engine's
// sandbox forbids.
//
// Both hold the exiv2 gate, never throw, and return what was read before a failure. `bytes` must outlive
// nothing: the tags are copied.
LoadedTags load_tags(Bytes bytes);
LoadedTags load_tags(const std::string& path);

}  // namespace burstsieve::decode
