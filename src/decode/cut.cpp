// What is cut from decoded planes: the 1/8 colour image, crops and the thumbnail, all upright.
#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/buffer_pool.h"
#include "burstsieve/image/downscale.h"
#include "burstsieve/image/orientation.h"
#include "jpeg.h"
#include "touched.h"

namespace burstsieve::decode {
namespace {

constexpr int kThumbnailQuality = 85;

// All three of one size; empty chroma is grey.
cv::Mat bgr_of(const cv::Mat& y, const cv::Mat& cb, const cv::Mat& cr) {
  cv::Mat out = image::pooled(y.rows, y.cols, CV_8UC3);
  if (cb.empty()) {
    cv::cvtColor(y, out, cv::COLOR_GRAY2BGR);
    return out;
  }
  cv::Mat mixed = image::pooled(y.rows, y.cols, CV_8UC3);
  const cv::Mat planes[3] = {y, cr, cb};  // OpenCV's order; its coefficients are JFIF's
  cv::merge(planes, 3, mixed);
  cv::cvtColor(mixed, out, cv::COLOR_YCrCb2BGR);
  return out;
}

// Luma pixels per chroma sample: 1, 2 or 4 (decode_jpeg lets nothing else through).
int ratio(int luma, int chroma) {
  for (const int r : {1, 2, 4})
    if ((luma + r - 1) / r == chroma) return r;
  return 0;
}

// Luma pixels per chroma sample across and down. A side of one pixel fits every ratio: 1 then, which reads
// the same sample.
cv::Size subsampling(const Planes& p) {
  if (p.cb.empty()) return {1, 1};
  return {ratio(p.luma.cols, p.cb.cols), ratio(p.luma.rows, p.cb.rows)};
}

// Chroma at every pixel of `r` (luma pixels, sensor layout): linear between the centres of the samples, which
// JFIF puts amid the luma pixels they stand for.
cv::Mat chroma_at(const cv::Mat& chroma, const cv::Rect& r, cv::Size sub) {
  // One sample more on each side, so that the crop's border is interpolated as the middle of the frame is.
  const int x0 = std::max(r.x / sub.width - 1, 0);
  const int y0 = std::max(r.y / sub.height - 1, 0);
  const int x1 = std::min((r.br().x - 1) / sub.width + 2, chroma.cols);
  const int y1 = std::min((r.br().y - 1) / sub.height + 2, chroma.rows);
  const cv::Mat part = chroma(cv::Rect(x0, y0, x1 - x0, y1 - y0));
  if (sub == cv::Size(1, 1)) return part(cv::Rect(r.x - x0, r.y - y0, r.width, r.height));
  cv::Mat full = image::pooled(part.rows * sub.height, part.cols * sub.width, CV_8UC1);
  cv::resize(part, full, full.size(), 0, 0, cv::INTER_LINEAR);
  return full(cv::Rect(r.x - x0 * sub.width, r.y - y0 * sub.height, r.width, r.height));
}

cv::Mat bgr_at(const Planes& p, const cv::Rect& r) {
  if (p.cb.empty()) return bgr_of(p.luma(r), {}, {});
  const cv::Size sub = subsampling(p);
  CV_Assert(sub.width > 0 && sub.height > 0);
  return bgr_of(p.luma(r), chroma_at(p.cb, r, sub), chroma_at(p.cr, r, sub));
}

cv::Size upright_size(const Planes& p) {
  return {p.upright_width(), p.upright_height()};
}

// Area-averaged upright picture at 1/factor (2 or 4) of the decoded size; empty when chroma is coarser.
cv::Mat reduced(const Planes& p, int factor) {
  const cv::Mat y = image::block_means(p.luma, factor, factor);
  if (p.cb.empty()) return image::upright(bgr_of(y, {}, {}), p.orientation);
  const cv::Size sub = subsampling(p);
  if (sub.empty() || sub.width > factor || sub.height > factor) return {};
  const int w = factor / sub.width;
  const int h = factor / sub.height;
  return image::upright(bgr_of(y, image::block_means(p.cb, w, h), image::block_means(p.cr, w, h)),
                        p.orientation);
}

// The smallest picture at hand that is still at least `side` long, or the whole frame.
cv::Mat large_enough(const Planes& p, const cv::Mat& eighth, int side) {
  if (std::max(eighth.cols, eighth.rows) >= side) return eighth;
  for (const int factor : {4, 2})
    if (std::max(p.luma.cols, p.luma.rows) >= side * factor)
      if (cv::Mat m = reduced(p, factor); !m.empty()) return m;
  return image::upright(bgr_at(p, cv::Rect({0, 0}, p.luma.size())), p.orientation);
}

cv::Mat averaged_to(const cv::Mat& plane, cv::Size size) {
  int factor = 1;
  while (2 * factor * size.width <= plane.cols && 2 * factor * size.height <= plane.rows && factor < 8)
    factor *= 2;
  const cv::Mat m = factor > 1 ? image::block_means(plane, factor, factor) : plane;
  if (m.size() == size) return m;
  cv::Mat out;
  cv::resize(m, out, size, 0, 0, m.cols > size.width ? cv::INTER_AREA : cv::INTER_LINEAR);
  return out;
}

// `r` in the sensor's layout, its longer side at most `side` pixels.
cv::Mat reduced_part(const Planes& p, const cv::Rect& r, int side) {
  const double scale = std::min(1.0, static_cast<double>(side) / std::max(r.width, r.height));
  const cv::Size size(std::max(1, cvRound(r.width * scale)), std::max(1, cvRound(r.height * scale)));
  const cv::Mat y = averaged_to(p.luma(r), size);
  if (p.cb.empty()) return bgr_of(y, {}, {});
  const cv::Size sub = subsampling(p);
  CV_Assert(sub.width > 0 && sub.height > 0);
  const cv::Rect chroma(r.x / sub.width, r.y / sub.height, (r.width + sub.width - 1) / sub.width,
                        (r.height + sub.height - 1) / sub.height);
  const cv::Rect inside = chroma & cv::Rect({}, p.cb.size());
  return bgr_of(y, averaged_to(p.cb(inside), size), averaged_to(p.cr(inside), size));
}

// By halves, for which the area average is quick, then by interpolation for the rest.
cv::Mat shrunk(cv::Mat m, cv::Size size) {
  const auto to = [](const cv::Mat& from, cv::Size wanted, int how) {
    cv::Mat out = image::pooled(wanted.height, wanted.width, from.type());
    cv::resize(from, out, wanted, 0, 0, how);
    return out;
  };
  while (m.cols >= 2 * size.width && m.rows >= 2 * size.height && m.cols > 1 && m.rows > 1) {
    const cv::Rect even(0, 0, m.cols / 2 * 2, m.rows / 2 * 2);
    m = to(m(even), even.size() / 2, cv::INTER_AREA);
  }
  return m.size() == size ? m : to(m, size, cv::INTER_LINEAR);
}

cv::Size no_longer_than(cv::Size size, int side) {
  const double scale = std::min(1.0, static_cast<double>(side) / std::max(size.width, size.height));
  return {std::max(cvRound(size.width * scale), 1), std::max(cvRound(size.height * scale), 1)};
}

}  // namespace

int Planes::upright_width() const {
  return swaps_sides(orientation) ? luma.rows : luma.cols;
}
int Planes::upright_height() const {
  return swaps_sides(orientation) ? luma.cols : luma.rows;
}

cv::Mat eighth_colour(const Planes& planes) {
  if (planes.luma8.empty()) return {};
  return image::upright(bgr_of(planes.luma8, planes.cb8, planes.cr8), planes.orientation);
}

Crop crop_luma(const Planes& planes, const Region& region) {
  const cv::Size size = upright_size(planes);
  const cv::Rect where = touched(region, size);
  if (where.empty()) return {};
  const cv::Rect there = image::as_sensor(where, size, planes.orientation);
  return {image::upright(planes.luma(there), planes.orientation), where};
}

ColourCrop crop_colour(const Planes& planes, const Region& region) {
  const cv::Size size = upright_size(planes);
  const cv::Rect where = touched(region, size);
  if (where.empty()) return {};
  const cv::Rect there = image::as_sensor(where, size, planes.orientation);
  return {image::upright(bgr_at(planes, there), planes.orientation), where};
}

ColourCrop crop_reduced(const Planes& planes, const Region& region, int side) {
  const cv::Size size = upright_size(planes);
  const cv::Rect where = touched(region, size);
  if (where.empty() || side < 1) return {};
  const cv::Rect there = image::as_sensor(where, size, planes.orientation);
  const double scale = std::min(1.0, static_cast<double>(side) / std::max(there.width, there.height));
  const cv::Size wanted(std::max(cvRound(there.width * scale), 1),
                        std::max(cvRound(there.height * scale), 1));
  const bool eighth = scale <= .125;  // the block means are fine enough
  const auto part = [&](const cv::Mat& plane) {
    if (plane.empty()) return cv::Mat();
    const double x = static_cast<double>(plane.cols) / planes.luma.cols,
                 y = static_cast<double>(plane.rows) / planes.luma.rows;
    const cv::Point from(static_cast<int>(there.x * x), static_cast<int>(there.y * y)),
        to(static_cast<int>(std::ceil(there.br().x * x)), static_cast<int>(std::ceil(there.br().y * y)));
    cv::Mat out;
    cv::resize(plane(cv::Rect(from, to) & cv::Rect({0, 0}, plane.size())), out, wanted, 0, 0, cv::INTER_AREA);
    return out;
  };
  const cv::Mat y = part(eighth ? planes.luma8 : planes.luma), cb = part(eighth ? planes.cb8 : planes.cb),
                cr = part(eighth ? planes.cr8 : planes.cr);
  return {image::upright(bgr_of(y, cb, cr), planes.orientation), where};
}

cv::Mat picture_of(const Planes& planes, const cv::Mat& eighth, int side) {
  return planes.luma.empty() ? cv::Mat() : large_enough(planes, eighth, side);
}

cv::Mat picture_of_part(const Planes& planes, const cv::Mat& eighth, const Region& region, int side) {
  if (planes.luma.empty() || side < 1) return {};
  if (const cv::Rect small = touched(region, eighth.size()); std::max(small.width, small.height) >= side)
    return eighth(small);
  const cv::Size size = upright_size(planes);
  const cv::Rect where = touched(region, size);
  if (where.empty()) return {};
  const cv::Rect there = image::as_sensor(where, size, planes.orientation);
  return image::upright(reduced_part(planes, there, side), planes.orientation);
}

ByteBuffer thumbnail(const Planes& planes, const cv::Mat& eighth, int side) {
  if (planes.luma.empty() || side < 1) return {};
  const cv::Mat from = large_enough(planes, eighth, side);
  return encode_jpeg(shrunk(from, no_longer_than(from.size(), side)), kThumbnailQuality);
}

Rendered rendered(const Planes& planes, const cv::Mat& eighth, const Region& region, int side, int quality) {
  const cv::Size full = upright_size(planes);
  const cv::Rect where = touched(region, full);
  if (where.empty() || side < 1) return {};
  const cv::Size wanted = no_longer_than(where.size(), side);
  const int reduction = std::max(where.width, where.height) / std::max(wanted.width, wanted.height);
  cv::Mat part;
  if (reduction >= 2) {
    // From the smallest picture that still has the pixels: most of a frame in full colour costs more than
    // decoding it.
    const int whole = std::max(full.width, full.height) / reduction;
    const cv::Mat small = large_enough(planes, eighth, whole);
    part = small(touched(
        {static_cast<double>(where.x) / full.width, static_cast<double>(where.y) / full.height,
         static_cast<double>(where.width) / full.width, static_cast<double>(where.height) / full.height},
        small.size()));
  } else {
    part = crop_colour(planes, region).bgr;
  }
  Rendered out;
  out.jpeg = encode_jpeg(shrunk(part, no_longer_than(part.size(), side)), quality);
  if (out.jpeg.empty()) return {};
  const cv::Size size = no_longer_than(part.size(), side);
  out.width = size.width;
  out.height = size.height;
  out.region = {static_cast<double>(where.x) / full.width, static_cast<double>(where.y) / full.height,
                static_cast<double>(where.width) / full.width,
                static_cast<double>(where.height) / full.height};
  return out;
}

}  // namespace burstsieve::decode
