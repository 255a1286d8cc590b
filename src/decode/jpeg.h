// libjpeg-turbo, behind a door: no jump, message or exception leaves.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/decode/pixels.h"
#include "deadline.h"

namespace burstsieve::decode {

// Fills the planes, their 1/8 means and `damage`; the rest of Planes is left at its defaults. `data` may go
// on after the end of the image. Errors carry no file name: truncated (no image data), corrupt, unsupported,
// limit.
Result<Planes> decode_jpeg(Bytes data, const Limits& limits, const Deadline& deadline);

// Planes of 8-bit R,G,B triples (JFIF: BT.601, full range), chroma not subsampled. rgb: CV_8UC3.
Planes planes_of_rgb(const cv::Mat& rgb);

// bgr: CV_8UC3. 4:2:0. Empty when it cannot be encoded.
ByteBuffer encode_jpeg(const cv::Mat& bgr, int quality);

}  // namespace burstsieve::decode
