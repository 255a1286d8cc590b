// Promise: any bytes give planes whose sizes agree, or an error; damage that the library met is told; the
// same bytes give the same picture; everything is cut from them that the pipeline cuts.
#include "jpeg.h"

#include <opencv2/core.hpp>

#include "burstsieve/decode/pixels.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::decode;

namespace {

// Small, so that a fuzzer gets through many inputs.
Limits small_limits() {
  Limits l;
  l.max_pixels = 1 << 20;
  l.max_decode_seconds = 2;
  l.max_jpeg_scans = 20;
  return l;
}

bool same(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && (a.empty() || cv::norm(a, b, cv::NORM_INF) == 0);
}

cv::Size eighth_of(cv::Size s) {
  return {(s.width + 7) / 8, (s.height + 7) / 8};
}

void require_sound(const Planes& p, const Limits& limits) {
  fuzz::require(!p.luma.empty() && p.luma.total() <= limits.max_pixels, "planes keep to the limit");
  fuzz::require(p.luma8.size() == eighth_of(p.luma.size()), "the 1/8 image belongs to the planes");
  fuzz::require(p.cb.size() == p.cr.size() && p.cb8.size() == p.cr8.size(), "chroma comes in pairs");
  fuzz::require(p.cb.empty() || p.cb8.size() == p.luma8.size(), "colour covers the 1/8 image");
  fuzz::require(fuzz::clean_line(p.damage), "damage is one clean line");
}

void cut(Planes p, int orientation) {
  p.orientation = orientation;
  const cv::Mat eighth = eighth_colour(p);
  fuzz::require(!eighth.empty(), "every picture has a 1/8 image");
  const Crop grey = crop_luma(p, {.3, .3, .4, .4});
  const ColourCrop colour = crop_colour(p, {.3, .3, .4, .4});
  fuzz::require(grey.luma.size() == colour.bgr.size() && grey.where == colour.where, "crops agree");
  fuzz::require(!thumbnail(p, eighth, 64).empty(), "every picture has a thumbnail");
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes bytes(data, size);
  const Limits limits = small_limits();
  const auto planes = decode_jpeg(bytes, limits, Deadline(limits));
  if (!planes) {
    fuzz::refused(planes.error());
    return 0;
  }
  require_sound(*planes, limits);
  const auto again = decode_jpeg(bytes, limits, Deadline(limits));
  fuzz::require(again && same(again->luma, planes->luma) && same(again->cb, planes->cb) &&
                    same(again->cr, planes->cr) && again->damage == planes->damage,
                "the same bytes give the same picture");
  cut(*planes, 1 + static_cast<int>(size % 8));
  fuzz::came_out(planes->damage.empty() ? "whole" : "damaged");
  return 0;
}
