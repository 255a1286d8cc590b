// Records as bytes: little-endian, doubles by their bits, with a version and a checksum; reading checks every
// bound, so that a damaged record is refused and never becomes a wrong number.
#pragma once
#include <cstdint>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve::catalog {

// Changes whenever the layout of a record does; other versions count as damaged, that is, as absent. Seeds
// the checksum, too.
inline constexpr std::uint8_t kLayout = 4;

ByteBuffer encode(const Capture& capture);
// Without the thumbnail, but with its checksum: the thumbnail is stored beside.
ByteBuffer encode(const FrameFacts& facts);
ByteBuffer encode(const FrameVerdict& verdict);

// Cause::corrupt for anything that encode() would not have written.
Result<Capture> decode_capture(Bytes record);
Result<FrameFacts> decode_facts(Bytes record, Bytes thumbnail);
Result<FrameVerdict> decode_verdict(Bytes record);

}  // namespace burstsieve::catalog
