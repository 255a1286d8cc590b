// Directories that contradict themselves.
#include <cmath>
#include <limits>

#include "builder.h"
#include "cases.h"

namespace burstsieve::fuzz {
namespace {

constexpr std::uint32_t kSide = 32;  // LibRaw takes nothing under 22
constexpr std::uint32_t kAt = 512;   // of the photosites, behind the directory and room for values

// The mosaic file with one field changed and `extra` standing at 256.
ByteBuffer changed(Field f, const ByteBuffer& extra = {}) {
  const auto fields = with(plain_mosaic(kSide, kAt), f);
  Builder b = tiff(fields);
  b.upto(256).raw(extra).upto(kAt);
  ByteBuffer out = mosaic_file(fields, kSide, kAt);
  std::copy(b.done().begin(), b.done().end(), out.begin());
  return out;
}

ByteBuffer doubles(std::initializer_list<double> values) {
  Builder b;
  for (const double v : values) b.f64(v);
  return b.done();
}

// A preview directory pointing at `jpeg`, which follows at 64.
ByteBuffer with_preview(std::uint32_t offset, std::uint32_t size, const ByteBuffer& jpeg) {
  return tiff({{513, kLong, 1, offset}, {514, kLong, 1, size}}).upto(64).raw(jpeg).done();
}

ByteBuffer jpeg_head(std::uint32_t width, std::uint32_t height) {
  return Builder(ByteOrder::big)
      .u16(0xffd8)
      .u16(0xffc0)
      .u16(17)
      .u8(8)
      .u16(height)
      .u16(width)
      .fill(10, 1)
      .done();
}

void add_walks(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"tiff", name, bytes}); };
  add("seven-bytes.tif", Builder().text("II").u16(42).fill(3, 0).done());
  add("no-byte-order.tif", Builder().text("IM").u16(42).u32(8).done());
  add("ifd-loops-to-itself.tif", tiff({{256, kLong, 1, 600}}, 8).done());
  add("ifd-past-end.tif", Builder().text("II").u16(42).u32(0xfffffff0).done());
  add("ifd-of-65535-entries-in-20-bytes.tif",
      Builder().text("MM").u8(0).u8(42).u32(0x08000000).u16(0xffff).u16(0).done());
  add("two-ifds-sub-of-each-other.tif", [] {
    Builder b = tiff({{330, kLong, 1, 64}});
    b.upto(64);
    return directory(b, {{330, kLong, 1, 8}}, 8).done();
  }());
  add("hundred-ifds-in-a-chain.tif", [] {
    Builder b;
    b.text("II").u16(42).u32(8);
    for (std::uint32_t i = 1; i <= 100; ++i) directory(b, {{256, kLong, 1, i}}, 8 + 18 * i);
    return b.done();
  }());
  add("count-overflows-size.tif", tiff({{256, kDouble, 0xffffffff, 0}, {330, kLong, 0x40000001, 8}}).done());
  add("field-of-unknown-type.tif", tiff({{256, 99, 1, 5}, {330, 0, 4, 8}}).done());
  add("sub-ifds-as-infinite-doubles.tif",
      tiff({{330, kDouble, 3, 40}})
          .upto(40)
          .raw(doubles({std::numeric_limits<double>::infinity(), 1e300, std::nan("")}))
          .done());
  add("width-is-not-a-number.tif", tiff({{256, kFloat, 1, 0x7fc00000}, {257, kFloat, 1, 0xff800000}}).done());
  add("preview-past-end.tif", with_preview(0xffffff00, 0xffffffff, jpeg_head(640, 480)));
  add("preview-larger-than-file.tif", with_preview(64, 0xffffffff, jpeg_head(640, 480)));
  add("preview-of-fill-bytes-only.tif",
      with_preview(64, 600, Builder(ByteOrder::big).u16(0xffd8).fill(598, 0xff).done()));
  add("preview-segment-of-length-one.tif",
      with_preview(64, 600, Builder(ByteOrder::big).u16(0xffd8).u16(0xffe0).u16(1).fill(594, 0).done()));
}

void add_plain_dngs(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"tiff", name, bytes}); };
  add("plain-mosaic.dng", mosaic_file(plain_mosaic(kSide, kAt), kSide, kAt));
  add("strip-at-minus-one.dng", changed({273, kDouble, 1, 256}, doubles({-1})));
  add("strip-at-ten-to-the-300.dng", changed({273, kDouble, 1, 256}, doubles({1e300})));
  add("strip-size-not-a-number.dng", changed({279, kDouble, 1, 256}, doubles({std::nan("")})));
  add("strip-at-half-a-byte.dng", changed({273, kDouble, 1, 256}, doubles({512.5})));
  add("strip-shorter-than-its-rows.dng", changed({279, kLong, 1, 100}));
  add("strip-past-end.dng", changed({273, kLong, 1, 0xffffff00}));
  add("black-level-infinite.dng",
      changed({50714, kDouble, 1, 256}, doubles({std::numeric_limits<double>::infinity()})));
  add("neutral-next-to-nothing.dng", changed({50728, kDouble, 3, 256}, doubles({1e-320, 1e300, 1e-320})));
  add("active-area-inside-out.dng", changed({50829, kDouble, 4, 256}, doubles({32, 32, 0, 0})));
  add("pattern-of-colour-nine.dng", changed({33422, kByte, 4, 0x09010100}));
  add("tiles-of-no-width.dng", changed({322, kLong, 1, 0}));
  // One strip that claims 600 MB: nothing may be set aside for it before the file is seen to hold it.
  auto huge = with(with(plain_mosaic(kSide, kAt), {256, kLong, 1, 20000}), {257, kLong, 1, 14000});
  huge = with(with(huge, {278, kLong, 1, 14000}), {279, kLong, 1, 560'000'000});
  add("mosaic-of-20000x14000-in-1-kb.dng", mosaic_file(huge, kSide, kAt));
}

}  // namespace

void add_tiffs(Cases& to) {
  add_walks(to);
  add_plain_dngs(to);
}

void add_mosaics(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"mosaic", name, bytes}); };
  add("empty-file.dng", {});
  add("plain-mosaic.dng", mosaic_file(plain_mosaic(kSide, kAt), kSide, kAt));
  add("all-one-value.dng", tiff(plain_mosaic(kSide, kAt)).upto(kAt).fill(2 * kSide * kSide, 7).done());
  ByteBuffer cut = mosaic_file(plain_mosaic(kSide, kAt), kSide, kAt);
  cut.resize(kAt + 100);
  add("cut-in-the-photosites.dng", cut);
  add("strip-shorter-than-its-rows.dng", changed({279, kLong, 1, 100}));
  add("no-mosaic-at-all.dng", changed({262, kShort, 1, 2}));
  add("lossless-jpeg-of-garbage.dng", changed({259, kShort, 1, 7}));
  add("one-bit-photosites.dng", changed({258, kShort, 1, 1}));
  add("thirty-two-bit-photosites.dng", changed({258, kShort, 1, 32}));
  add("pattern-of-one-colour.dng", changed({33422, kByte, 4, 0x01010101}));
  add("active-area-beyond-sensor.dng", changed({50829, kDouble, 4, 256}, doubles({0, 0, 4000, 4000})));
  add("active-area-at-minus-ten.dng", changed({50829, kDouble, 4, 256}, doubles({-10, -10, 32, 32})));
  auto huge = with(with(plain_mosaic(kSide, kAt), {256, kLong, 1, 20000}), {257, kLong, 1, 14000});
  huge = with(with(huge, {278, kLong, 1, 14000}), {279, kLong, 1, 560'000'000});
  add("mosaic-of-20000x14000-in-1-kb.dng", mosaic_file(huge, kSide, kAt));
  auto wide = with(with(plain_mosaic(kSide, kAt), {256, kLong, 1, 65534}), {257, kLong, 1, 2});
  add("mosaic-two-rows-high.dng", mosaic_file(with(wide, {278, kLong, 1, 2}), kSide, kAt));
  add("only-a-tiff-header.dng", Builder().text("II").u16(42).u32(8).done());
}

void add_previews(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"preview", name, bytes}); };
  Builder starts(ByteOrder::big);
  for (int i = 0; i < 1300; ++i) starts.u16(0xffd8).u8(0xff);
  add("thousands-of-starts.bin", starts.done());
  Builder segments(ByteOrder::big);
  segments.u16(0xffd8);
  for (int i = 0; i < 900; ++i) segments.u16(0xffe1).u16(2);
  add("nine-hundred-empty-segments.bin", segments.raw(jpeg_head(640, 480)).done());
  add("segment-of-length-zero.bin",
      Builder(ByteOrder::big).u16(0xffd8).u16(0xffe1).u16(0).fill(64, 0).done());
  add("frame-header-cut.bin",
      Builder(ByteOrder::big).u16(0xffd8).u16(0xffc0).u16(17).u8(8).u16(480).u8(2).done());
  add("picture-of-no-height.bin", jpeg_head(640, 0));
  add("picture-65535-square.bin", jpeg_head(65535, 65535));
  add("fill-bytes-without-end.bin", Builder(ByteOrder::big).u16(0xffd8).fill(4000, 0xff).done());
  add("lossless-frame-is-no-preview.bin", [] {
    ByteBuffer b = jpeg_head(640, 480);
    b[3] = 0xc3;
    return b;
  }());
  add("twelve-bit-frame.bin", [] {
    ByteBuffer b = jpeg_head(640, 480);
    b[6] = 12;
    return b;
  }());
  add("larger-one-behind-a-smaller.bin",
      Builder().fill(5, 0).raw(jpeg_head(160, 120)).fill(9, 0xff).raw(jpeg_head(1620, 1080)).done());
  add("start-in-the-last-two-bytes.bin", Builder(ByteOrder::big).fill(7, 0).u16(0xffd8).done());
}

}  // namespace burstsieve::fuzz
