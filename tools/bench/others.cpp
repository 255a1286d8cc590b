#include "others.h"

#include <cstddef>
#include <cstdio>
//
#include <jpeglib.h>
#include <libraw/libraw.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <memory>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace burstsieve::bench {
namespace {

void slurp(const std::string& path, std::vector<std::uint8_t>& into) {
  into.clear();
  std::FILE* f = std::fopen(path.c_str(), "rb");
  if (!f) return;
  std::fseek(f, 0, SEEK_END);
  const long size = std::ftell(f);
  std::rewind(f);
  into.resize(size > 0 ? static_cast<std::size_t>(size) : 0);
  if (std::fread(into.data(), 1, into.size(), f) != into.size()) into.clear();
  std::fclose(f);
}

// 64 signs of the lowest DCT coefficients of a 32x32 picture.
std::uint64_t hash(const cv::Mat& grey) {
  cv::Mat small;
  cv::resize(grey, small, {32, 32}, 0, 0, cv::INTER_AREA);
  small.convertTo(small, CV_32F);
  cv::dct(small, small);
  std::uint64_t bits = 0;
  for (int y = 0; y < 8; ++y)
    for (int x = 0; x < 8; ++x) bits = bits << 1 | (small.at<float>(y, x) > 0 ? 1u : 0u);
  return bits;
}

std::uint64_t judge(const cv::Mat& bgr) {
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  cv::Mat laplacian;
  cv::Laplacian(grey, laplacian, CV_64F);
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(laplacian, mean, deviation);
  return hash(grey) ^ static_cast<std::uint64_t>(deviation[0] * deviation[0]) ^ 1u;
}

}  // namespace

std::vector<std::uint8_t> jpeg_of(const FileRef& file) {
  std::vector<std::uint8_t> bytes;
  if (file.kind == FileKind::jpeg) {
    slurp(file.path, bytes);
    return bytes;
  }
  const auto raw = std::make_unique<LibRaw>();
  if (raw->open_file(file.path.c_str()) != LIBRAW_SUCCESS || raw->unpack_thumb() != LIBRAW_SUCCESS)
    return bytes;
  const auto& t = raw->imgdata.thumbnail;
  if (t.tformat == LIBRAW_THUMBNAIL_JPEG) bytes.assign(t.thumb, t.thumb + t.tlength);
  return bytes;
}

std::uint64_t luma_decode(const std::string& path, const std::vector<std::uint8_t>& jpeg) {
  static thread_local std::vector<std::uint8_t> file;
  const std::vector<std::uint8_t>* from = &jpeg;
  if (!path.empty()) {
    slurp(path, file);
    from = &file;
  }
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, from->data(), static_cast<unsigned long>(from->size()));
  jpeg_read_header(&info, TRUE);
  info.out_color_space = JCS_GRAYSCALE;
  jpeg_start_decompress(&info);
  static thread_local std::vector<std::uint8_t> row;
  row.resize(info.output_width);
  std::uint64_t sum = 1;
  while (info.output_scanline < info.output_height) {
    JSAMPROW p = row.data();
    jpeg_read_scanlines(&info, &p, 1);
    sum += row.front();
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return sum;
}

std::uint64_t naive_frame(const FileRef& file) {
  if (file.kind == FileKind::jpeg) {
    const cv::Mat bgr = cv::imread(file.path, cv::IMREAD_COLOR);
    return bgr.empty() ? 0 : judge(bgr);
  }
  const auto raw = std::make_unique<LibRaw>();
  auto& p = raw->imgdata.params;
  p.use_camera_wb = 1;
  p.user_qual = 3;  // AHD
  if (raw->open_file(file.path.c_str()) != LIBRAW_SUCCESS || raw->unpack() != LIBRAW_SUCCESS ||
      raw->dcraw_process() != LIBRAW_SUCCESS)
    return 0;
  int error = 0;
  libraw_processed_image_t* image = raw->dcraw_make_mem_image(&error);
  if (!image) return 0;
  std::uint64_t out = 0;
  if (image->colors == 3 && image->bits == 8)
    out = judge(cv::Mat(image->height, image->width, CV_8UC3, image->data));
  LibRaw::dcraw_clear_mem(image);
  return out;
}

}  // namespace burstsieve::bench
