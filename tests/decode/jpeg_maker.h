// JPEGs, pictures and temporary files for the decode tests.
#pragma once
#include <cstddef>
#include <cstdio>
//
#include <jpeglib.h>
#include <unistd.h>

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "burstsieve/base/bytes.h"
#include "burstsieve/model/frame.h"

namespace decode_test {

using burstsieve::ByteBuffer;

// The shared folder of a test, that also writes photographs.
struct TempFolder : burstsieve::test::TempFolder {
  std::string name(const std::string& leaf) const { return at(leaf); }
  using burstsieve::test::TempFolder::write;
  burstsieve::FileRef write(const std::string& leaf, const ByteBuffer& bytes,
                            burstsieve::FileKind kind = burstsieve::FileKind::jpeg) const {
    burstsieve::FileRef out;
    out.path = at(leaf);
    out.kind = kind;
    out.size = bytes.size();
    std::ofstream f(out.path, std::ios::binary);
    f.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return out;
  }
};

inline ByteBuffer slurp(const std::string& path) {
  std::ifstream f(path, std::ios::binary);
  return ByteBuffer(std::istreambuf_iterator<char>(f), std::istreambuf_iterator<char>());
}

// Smooth colour, edges and noise; no symmetry.
inline cv::Mat scene(int width, int height, std::uint64_t seed = 1) {
  cv::Mat m(height, width, CV_8UC3);
  cv::RNG rng(seed);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const double wave = 60 * std::sin(x * .05) + 40 * std::cos(y * .08 + x * .01);
      const int step = (x / 37 + y / 23) % 3 * 25;
      m.at<cv::Vec3b>(y, x) = cv::Vec3b(cv::saturate_cast<uchar>(90 + wave + step + rng.gaussian(4)),
                                        cv::saturate_cast<uchar>(120 - wave / 2 + step + rng.gaussian(4)),
                                        cv::saturate_cast<uchar>(80 + x * 90. / width + rng.gaussian(4)));
    }
  return m;
}

struct JpegKind {
  int h = 2, v = 2;  // luma sampling; chroma 1x1
  bool grey = false, progressive = false, rgb = false, cmyk = false;
  int restart_rows = 0;
  int quality = 90;
};

// By libjpeg itself, so that the decoder under test is never fed by its own encoder.
inline ByteBuffer make_jpeg(const cv::Mat& bgr, const JpegKind& kind) {
  jpeg_compress_struct c{};
  jpeg_error_mgr e{};
  c.err = jpeg_std_error(&e);
  jpeg_create_compress(&c);
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&c, &bytes, &size);
  cv::Mat in = bgr;
  c.in_color_space = JCS_EXT_BGR;
  if (kind.grey) {
    cv::cvtColor(bgr, in, cv::COLOR_BGR2GRAY);
    c.in_color_space = JCS_GRAYSCALE;
  }
  if (kind.cmyk) {
    cv::cvtColor(bgr, in, cv::COLOR_BGR2BGRA);
    c.in_color_space = JCS_CMYK;
  }
  c.image_width = static_cast<JDIMENSION>(in.cols);
  c.image_height = static_cast<JDIMENSION>(in.rows);
  c.input_components = in.channels();
  jpeg_set_defaults(&c);
  if (kind.rgb) jpeg_set_colorspace(&c, JCS_RGB);
  jpeg_set_quality(&c, kind.quality, TRUE);
  if (!kind.rgb && !kind.cmyk) {
    c.comp_info[0].h_samp_factor = kind.h;
    c.comp_info[0].v_samp_factor = kind.v;
  }
  c.restart_in_rows = kind.restart_rows;
  if (kind.progressive) jpeg_simple_progression(&c);
  jpeg_start_compress(&c, TRUE);
  while (c.next_scanline < c.image_height) {
    JSAMPROW row = in.ptr(static_cast<int>(c.next_scanline));
    jpeg_write_scanlines(&c, &row, 1);
  }
  jpeg_finish_compress(&c);
  jpeg_destroy_compress(&c);
  ByteBuffer out(bytes, bytes + size);
  std::free(bytes);
  return out;
}

inline bool have(const char* program) {
  return std::system((std::string("command -v ") + program + " >/dev/null 2>&1").c_str()) == 0;
}

// The picture an outside djpeg makes of `path`, as PGM or PPM (CV_8UC3 is then R,G,B). Empty when it fails.
inline cv::Mat djpeg(const std::string& path, const std::string& options) {
  std::FILE* pipe = popen(("djpeg -pnm " + options + " '" + path + "' 2>/dev/null").c_str(), "r");
  if (!pipe) return {};
  char kind = 0;
  int width = 0;
  int height = 0;
  int most = 0;
  cv::Mat out;
  if (std::fscanf(pipe, "P%c %d %d %d", &kind, &width, &height, &most) == 4 && std::fgetc(pipe) != EOF) {
    out.create(height, width, kind == '5' ? CV_8UC1 : CV_8UC3);
    if (std::fread(out.data, 1, out.total() * out.elemSize(), pipe) != out.total() * out.elemSize())
      out.release();
  }
  pclose(pipe);
  return out;
}

}  // namespace decode_test
