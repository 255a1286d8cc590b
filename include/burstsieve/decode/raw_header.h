// What LibRaw reads from the head of a raw file, for formats and damage that exiv2 does not get past.
#pragma once
#include <string>

#include "burstsieve/model/capture.h"

namespace burstsieve::decode {

// Fills the fields of `capture` that are still unset: make, model, time, exposure, size, orientation. Adds a
// note where LibRaw could not help. replace_size: take LibRaw's size over the one that is set. Reads headers
// only. Never throws. Thread-safe.
void fill_from_raw_header(const std::string& path, Capture& capture, bool replace_size = false);

}  // namespace burstsieve::decode
