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
// costs more than measuring it, so only what is cut from the planes is turned upright. Rows of the full-size
// planes may be padded (not continuous). The memory belongs to a pool (image/buffer_pool.h): let go of the
// planes early, on any thread.
struct Planes {
  cv::Mat luma;    // CV_8U, full size, JFIF Y (ITU-R BT.601), sRGB-like transfer curve
  cv::Mat cb, cr;  // CV_8U, subsampled as stored; empty for a grey JPEG
  // Means of the 8x8 luma blocks and of the chroma under them, ceil(size / 8): averaged while the decoded
  // rows were still in the cache. cb8 and cr8 are empty for a grey JPEG.
  cv::Mat luma8, cb8, cr8;
  int orientation = 1;  // EXIF 1..8, to be applied to what is cut
  // Full-size (sensor) pixels per pixel of `luma`: 1 for a JPEG, >= 1 for a reduced embedded preview.
  double full_per_pixel = 1;
  std::string source;  // "jpeg" or "embedded preview" (also for the rendering that stands in for a preview)
  std::string damage;  // why the pixels can't be trusted ("data ends early", ...); empty when whole
  int upright_width() const;
  int upright_height() const;
};

// Decodes `file` once. JPEG: the file itself. Raw: its largest embedded JPEG preview (no raw decode); when
// there is none, or only a thumbnail, LibRaw's half-size rendering. A raw that LibRaw does not know still
// goes through by the largest JPEG found in it. `orientation`: from Capture; a preview that stands upright
// already (its aspect tells, for quarter turns) gets 1. Thread-safe. Errors: io, truncated (no image data at
// all), corrupt, unsupported (no preview and LibRaw can't unpack it; CMYK), limit. A partly damaged image is
// returned with `damage` set; what is missing is grey. Blind to: damage that leaves a valid bit stream (a
// flipped bit inside one coefficient).
Result<Planes> decode_planes(const FileRef& file, int orientation, const Limits& limits);

// Upright CV_8UC3 BGR, 1/8 of the decoded size (rounded up), area-averaged in the encoded (non-linear)
// domain.
cv::Mat eighth_colour(const Planes& planes);

// Upright copies of the region at full resolution: every pixel the region touches. `where` gets the pixel
// rectangle inside the upright image. A region outside the frame gives an empty crop.
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
// The same, area-averaged so that its longer side has at most `side` px (never enlarged); `where` stays in
// full-size pixels. Costs about what reading the region once does. Chroma to half a sample.
ColourCrop crop_reduced(const Planes& planes, const Region& region, int side);

// Upright CV_8UC3 BGR of the whole frame: `eighth` (eighth_colour(planes)) where that is at least `side` px
// long, else the smallest reduction at hand that is, or the frame itself. Area-averaged.
cv::Mat picture_of(const Planes& planes, const cv::Mat& eighth, int side);

// JPEG bytes (quality 85, 4:2:0), longest side at most `side` px, upright, made from the 1/8 image (or larger
// where that is too small). Never enlarged. `eighth`: eighth_colour(planes). Empty when there are no pixels.
ByteBuffer thumbnail(const Planes& planes, const cv::Mat& eighth, int side = 320);

// A part of the frame for somebody to look at. Empty when the region lies outside the frame or there are no
// pixels.
struct Rendered {
  ByteBuffer jpeg;            // upright, 4:2:0
  int width = 0, height = 0;  // of it
  Region region;              // what it shows: whole pixels, so at most one more on each side than was asked
};
// Longest side at most `side` px (>= 1), never enlarged, area-averaged in the encoded domain; quality 1..100
// as libjpeg's. `eighth`: eighth_colour(planes).
Rendered rendered(const Planes& planes, const cv::Mat& eighth, const Region& region, int side, int quality);

}  // namespace burstsieve::decode
