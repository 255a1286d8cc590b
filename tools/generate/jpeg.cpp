
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>

#include "files.h"
// clang-format off: jpeglib.h needs what <cstdio> declares
#include <jpeglib.h>
// clang-format on

namespace burstsieve::generate {

ByteBuffer encode_jpeg(const cv::Mat3b& bgr, const JpegOptions& options, const Exif* exif) {
  jpeg_compress_struct c{};
  jpeg_error_mgr errors{};
  // The default handler ends the program: only running out of memory or a picture over 65500 px leads there.
  c.err = jpeg_std_error(&errors);
  jpeg_create_compress(&c);
  unsigned char* memory = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&c, &memory, &size);
  c.image_width = static_cast<JDIMENSION>(bgr.cols);
  c.image_height = static_cast<JDIMENSION>(bgr.rows);
  c.input_components = 3;
  c.in_color_space = JCS_EXT_BGR;
  jpeg_set_defaults(&c);
  c.write_JFIF_header = FALSE;  // Exif files start with APP1 (Exif 2.32 section 4.5.4)
  jpeg_set_quality(&c, options.quality, TRUE);
  c.comp_info[0].h_samp_factor = options.full_chroma ? 1 : 2;
  c.comp_info[0].v_samp_factor = 1;
  jpeg_start_compress(&c, TRUE);
  if (exif != nullptr) {
    ByteBuffer block{'E', 'x', 'i', 'f', 0, 0};
    const ByteBuffer tiff = exif_block(*exif);
    block.insert(block.end(), tiff.begin(), tiff.end());
    jpeg_write_marker(&c, JPEG_APP0 + 1, block.data(), static_cast<unsigned>(block.size()));
  }
  while (c.next_scanline < c.image_height) {
    auto* row = const_cast<JSAMPROW>(bgr.ptr(static_cast<int>(c.next_scanline)));
    jpeg_write_scanlines(&c, &row, 1);
  }
  jpeg_finish_compress(&c);
  ByteBuffer out(memory, memory + size);
  std::free(memory);
  jpeg_destroy_compress(&c);
  return out;
}

Status write_file(const std::string& path, const ByteBuffer& bytes) {
  namespace fs = std::filesystem;
  std::error_code error;
  if (fs::path(path).has_parent_path()) fs::create_directories(fs::path(path).parent_path(), error);
  if (error) return Error{Cause::io, path, "can't create its folder: " + error.message()};
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  if (!file) return Error{Cause::io, path, std::string("can't open for writing: ") + std::strerror(errno)};
  file.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  file.close();
  if (!file) return Error{Cause::io, path, std::string("can't write: ") + std::strerror(errno)};
  return Done{};
}

Status write_jpeg(const std::string& path, const cv::Mat3b& bgr, const JpegOptions& options,
                  const Exif& exif) {
  return write_file(path, encode_jpeg(bgr, options, &exif));
}

}  // namespace burstsieve::generate
