#include <cmath>

#include "exif_tags.h"
#include "files.h"

namespace burstsieve::generate {
namespace {

// XYZ (D65) to linear sRGB, IEC 61966-2-1; scaled per row it maps to the invented sensor's RGB.
constexpr double xyz_to_srgb[3][3] = {
    {3.2406, -1.5372, -.4986}, {-.9689, 1.8758, .0415}, {.0557, -.2040, 1.0570}};

ByteBuffer packed(const cv::Mat1w& mosaic, int bits) {
  ByteBuffer out;
  const auto samples = static_cast<std::size_t>(mosaic.total());
  if (bits == 12) {
    out.reserve(samples / 2 * 3);
    for (int y = 0; y < mosaic.rows; ++y) {
      for (int x = 0; x < mosaic.cols; x += 2) {  // most significant bit first, as FillOrder 1 asks
        const unsigned a = mosaic(y, x), b = mosaic(y, x + 1);
        out.push_back(static_cast<unsigned char>(a >> 4));
        out.push_back(static_cast<unsigned char>((a & 15) << 4 | b >> 8));
        out.push_back(static_cast<unsigned char>(b));
      }
    }
    return out;
  }
  out.resize(samples * 2);
  std::size_t at = 0;
  for (int y = 0; y < mosaic.rows; ++y) {
    for (int x = 0; x < mosaic.cols; ++x) {
      out[at++] = static_cast<unsigned char>(mosaic(y, x));
      out[at++] = static_cast<unsigned char>(mosaic(y, x) >> 8);
    }
  }
  return out;
}

Directory raw_directory(const DngImage& image, std::uint32_t bytes) {
  const auto width = static_cast<std::uint32_t>(image.mosaic.cols),
             height = static_cast<std::uint32_t>(image.mosaic.rows);
  Directory d;
  d.longs(0x00FE, {0});  // full-resolution image
  d.longs(0x0100, {width});
  d.longs(0x0101, {height});
  d.shorts(0x0102, {static_cast<std::uint16_t>(image.levels.bits)});
  d.shorts(0x0103, {1});      // uncompressed
  d.shorts(0x0106, {32803});  // colour filter array
  d.longs(0x0111, {0});
  d.shorts(0x0115, {1});
  d.longs(0x0116, {height});
  d.longs(0x0117, {bytes});
  d.shorts(0x011C, {1});
  d.shorts(0x828D, {2, 2});
  d.bytes(0x828E, ByteBuffer(image.cfa.begin(), image.cfa.end()));
  d.bytes(0xC616, {0, 1, 2});  // CFAPlaneColor
  d.shorts(0xC617, {1});       // CFALayout: rectangular
  d.shorts(0xC619, {1, 1});    // BlackLevelRepeatDim
  d.longs(0xC61A, {static_cast<std::uint32_t>(image.levels.black)});
  d.longs(0xC61D, {static_cast<std::uint32_t>(image.levels.white)});
  d.rationals(0xC61E, {{1, 1}, {1, 1}});   // DefaultScale
  d.longs(0xC61F, {0, 0});                 // DefaultCropOrigin
  d.longs(0xC620, {width, height});        // DefaultCropSize
  d.longs(0xC68D, {0, 0, height, width});  // ActiveArea
  return d;
}

}  // namespace

ByteBuffer encode_dng(const DngImage& image, const Exif& exif) {
  CV_Assert(image.mosaic.cols % 2 == 0 && image.mosaic.rows % 2 == 0);
  const ByteBuffer samples = packed(image.mosaic, image.levels.bits);
  Directory first = image_directory(exif);
  const auto preview_size = static_cast<std::uint32_t>(image.preview.size());
  first.longs(0x00FE, {1});  // reduced-resolution image
  first.longs(0x0100, {static_cast<std::uint32_t>(image.preview_width)});
  first.longs(0x0101, {static_cast<std::uint32_t>(image.preview_height)});
  first.shorts(0x0102, {8, 8, 8});
  first.shorts(0x0103, {7});  // JPEG
  first.shorts(0x0106, {6});  // YCbCr
  first.longs(0x0111, {0});
  first.shorts(0x0115, {3});
  first.longs(0x0116, {static_cast<std::uint32_t>(image.preview_height)});
  first.longs(0x0117, {preview_size});
  first.shorts(0x011C, {1});
  first.longs(0x014A, {0});
  first.shorts(0x0212, {2, 1});
  first.bytes(0xC612, {1, 4, 0, 0});
  first.bytes(0xC613, {1, 4, 0, 0});
  first.ascii(0xC614, exif.make + " " + exif.model);
  first.ascii(0xC62F, exif.serial);
  std::vector<double> matrix;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c)
      matrix.push_back(as_shot_neutral[static_cast<std::size_t>(r)] * xyz_to_srgb[r][c]);
  first.srationals(0xC621, matrix);
  std::vector<Rational> neutral;
  for (double v : as_shot_neutral)
    neutral.push_back({static_cast<std::uint32_t>(std::lround(v * 10000)), 10000});
  first.rationals(0xC628, neutral);
  first.shorts(0xC65A, {21});  // D65
  first.doubles(0xC761, {image.noise.shot, image.noise.read});

  Directory raw = raw_directory(image, static_cast<std::uint32_t>(samples.size()));
  const Directory shot = exif_directory(exif);
  const std::uint32_t at_exif = 8 + first.size(), at_raw = at_exif + shot.size(),
                      at_preview = at_raw + raw.size();
  const std::uint32_t at_samples = (at_preview + preview_size + 15) / 16 * 16;
  first.longs(0x8769, {at_exif});
  first.longs(0x014A, {at_raw});
  first.longs(0x0111, {at_preview});
  raw.longs(0x0111, {at_samples});

  ByteBuffer out = tiff_header();
  out.reserve(at_samples + samples.size());
  first.append_to(out);
  shot.append_to(out);
  raw.append_to(out);
  out.insert(out.end(), image.preview.begin(), image.preview.end());
  out.resize(at_samples);
  out.insert(out.end(), samples.begin(), samples.end());
  return out;
}

Status write_dng(const std::string& path, const DngImage& image, const Exif& exif) {
  return write_file(path, encode_dng(image, exif));
}

}  // namespace burstsieve::generate
