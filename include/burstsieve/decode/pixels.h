// One decode of a frame, and everything that is cut from it.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/region.h"

namespace burstsieve::decode {

// The planes of one JPEG (or of a raw's largest embedded preview), in the layout of the sensor: turning 24 MP
// costs more than measuring it, so only what is cut from the planes is turned upright.
struct Planes {
  cv::Mat luma;         // CV_8U, full size, JFIF Y (ITU-R BT.601), sRGB-like transfer curve
  cv::Mat cb, cr;       // CV_8U, subsampled as stored; empty for a grey JPEG
  int orientation = 1;  // EXIF 1..8, to be applied to what is cut
  // Full-size (sensor) pixels per pixel of `luma`: 1 for a JPEG, >= 1 for a reduced embedded preview.
  double full_per_pixel = 1;
  std::string source;  // "jpeg" or "embedded preview"
  std::string damage;  // why the pixels can't be trusted ("data ends early", ...); empty when whole
  int upright_width() const;
  int upright_height() const;
};

// Decodes `file` once. JPEG: the file itself. Raw: its largest embedded JPEG preview (no raw decode); when
// there is none, LibRaw's half-size rendering. `orientation`: from Capture. Pixel buffers are reused per
// thread through `Planes`' own pool; a Planes may be moved to and freed on another thread. Errors: io,
// truncated (no image data at all), corrupt, unsupported (no preview and LibRaw can't unpack it; CMYK),
// limit. A partly damaged image is returned with `damage` set.
Result<Planes> decode_planes(const FileRef& file, int orientation, const Limits& limits);

// Upright CV_8UC3 BGR, 1/8 of the decoded size (rounded up), area-averaged in the encoded (non-linear)
// domain.
cv::Mat eighth_colour(const Planes& planes);

// Upright copies of the region at full resolution. `where` gets the pixel rectangle inside the upright image.
struct Crop {
  cv::Mat luma;  // CV_8U
  cv::Rect where;
};
Crop crop_luma(const Planes& planes, const Region& region);
// The same with colour: CV_8UC3 BGR, chroma interpolated.
struct ColourCrop {
  cv::Mat bgr;
  cv::Rect where;
};
ColourCrop crop_colour(const Planes& planes, const Region& region);

// JPEG bytes, longest side at most `side` px, upright, made from the 1/8 image (or larger where that is too
// small).
ByteBuffer thumbnail(const Planes& planes, const cv::Mat& eighth, int side = 320);

}  // namespace burstsieve::decode
