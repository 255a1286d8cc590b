// Files that begin like photographs.
#include "builder.h"
#include "cases.h"

namespace burstsieve::fuzz {
namespace {

// A JPEG start whose Exif segment holds `tiff`.
ByteBuffer exif_jpeg(const ByteBuffer& tiff, int length_off_by = 0) {
  const int length = static_cast<int>(tiff.size()) + 8 + length_off_by;
  return Builder(ByteOrder::big)
      .u16(0xffd8)
      .u16(0xffe1)
      .u16(static_cast<std::uint64_t>(length))
      .text("Exif")
      .u16(0)
      .raw(tiff)
      .u16(0xffd9)
      .done();
}

ByteBuffer box(std::uint32_t size, std::string_view name, const ByteBuffer& content) {
  return Builder(ByteOrder::big).u32(size).text(name).raw(content).done();
}

ByteBuffer crx() {
  return box(24, "ftyp", Builder(ByteOrder::big).text("crx ").u32(1).text("crx isom").done());
}

// A TIFF whose private block (byte order, "Raw", offset, entries) is nearly empty: from there the raw library
// read on behind the end of the file for hours.
ByteBuffer endless_iiq() {
  return Builder()
      .text("II")
      .u16(42)
      .u32(2048)
      .text("IIII")
      .u32(0x52617743)
      .u32(12)
      .u32(0)
      .u32(0)
      .fill(64, 1)
      .done();
}

void add_sniffs(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"sniff", name, bytes}); };
  add("empty-file", {});
  add("jpeg-two-bytes-long", {0xff, 0xd8});
  add("jpeg-three-bytes-long", {0xff, 0xd8, 0xff});
  add("tiff-header-only", Builder().text("II").u16(42).u32(8).done());
  add("tiff-ifd-loops-to-itself", tiff({{256, kLong, 1, 600}}, 8).done());
  add("tiff-make-of-four-gigabytes", tiff({{271, kAscii, 0xffffffff, 8}}).done());
  add("tiff-make-past-end", tiff({{271, kAscii, 40, 0xfffffff0}}).done());
  add("tiff-sub-ifds-four-billion", tiff({{330, kLong, 0xffffffff, 8}}).done());
  add("tiff-plain-picture", tiff({{256, kLong, 1, 600}, {257, kLong, 1, 400}, {262, kShort, 1, 2}}).done());
  add("tiff-dng-version-only", tiff({{50706, kByte, 4, 0x00000401}}).done());
  // Each entry lists 16 more directories: the walk must bound what it still wants to visit.
  std::vector<Field> lists;
  for (std::uint32_t i = 0; i < 300; ++i) lists.push_back({330, kLong, 16, 8 + 12 * i});
  add("tiff-300-lists-of-sub-ifds", tiff(lists).done());
  add("movie-not-crx", box(24, "ftyp", Builder(ByteOrder::big).text("qt  ").u32(1).text("qt  isom").done()));
  add("crw-without-byte-order", Builder().text("XX").u32(26).text("HEAPCCDR").done());
  add("text-that-begins-with-II", Builder().text("II. On the harbour wall").done());
}

void add_raw_headers(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) {
    to.push_back({"raw_header", name, bytes});
  };
  add("empty-file.nef", {});
  add("tiff-header-only.nef", Builder().text("II").u16(42).u32(8).done());
  add("plain-mosaic.dng", mosaic_file(plain_mosaic(32, 512), 32, 512));
  add("ifd-loops-to-itself.nef", tiff({{271, kAscii, 4, 0x004d4554}, {330, kLong, 1, 8}}, 8).done());
  add("crw-heap-points-at-itself.crw", [] {
    Builder b;
    b.text("II").u32(26).text("HEAPCCDR").fill(12, 0);
    b.u16(1).u16(0x300a).u32(0xffffffff).u32(0).u32(26);
    return b.done();
  }());
  add("raf-with-nothing-behind-its-name.raf", Builder().text("FUJIFILMCCD-RAW 0201").fill(12, '0').done());
  add("raf-offsets-past-end.raf",
      Builder().text("FUJIFILMCCD-RAW 0201").upto(84).fill(32, 0xff).upto(400).done());
  add("mrw-block-of-negative-size.mrw", Builder(ByteOrder::big)
                                            .u8(0)
                                            .text("MRM")
                                            .u32(0xffffffff)
                                            .u8(0)
                                            .text("PRD")
                                            .u32(0x80000000)
                                            .fill(40, 9)
                                            .done());
  add("cr3-box-of-size-zero.cr3", Builder(crx()).raw(box(0, "moov", {})).done());
  add("cr3-box-larger-than-file.cr3", Builder(crx()).raw(box(0x7fffffff, "moov", ByteBuffer(40, 1))).done());
  add("x3f-directory-past-end.x3f", Builder().text("FOVb").u32(0x20003).fill(100, 0).u32(0xfffffff0).done());
  add("phase-one-block-without-entries.iiq", endless_iiq());
  add("jpeg-is-no-raw.jpg", exif_jpeg(tiff({{256, kLong, 1, 5}}).done()));
}

void add_captures(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"capture", name, bytes}); };
  const ByteBuffer canon = tiff({{271, kAscii, 6, 40}}).upto(40).text("Canon").u8(0).done();
  add("empty-file.jpg", {});
  add("exif-with-a-make.jpg", exif_jpeg(canon));
  add("exif-ifd-loops-to-itself.jpg",
      exif_jpeg(tiff({{271, kAscii, 6, 40}, {34665, kLong, 1, 8}}, 8).done()));
  add("exif-ifd-past-end.jpg", exif_jpeg(Builder().text("II").u16(42).u32(0xfffffff0).done()));
  add("exif-segment-longer-than-file.jpg", exif_jpeg(canon, 5000));
  add("exif-value-of-four-gigabytes.jpg",
      exif_jpeg(tiff({{271, kAscii, 0xffffffff, 8}, {37500, 7, 0xfffffff0, 8}}).done()));
  add("maker-note-inside-itself.jpg",
      exif_jpeg(tiff({{271, kAscii, 6, 60}, {34665, kLong, 1, 8}, {37500, 7, 100, 8}})
                    .upto(60)
                    .text("Canon")
                    .u8(0)
                    .upto(120)
                    .done()));
  add("text.jpg", Builder().text("On the harbour wall sat three gulls.\n").done());
  add("tiff-ifd-loops-to-itself.nef", tiff({{271, kAscii, 6, 8}}, 8).done());
  // A film whose list never ends: the metadata reader stays in it for ever, so films are not given to it.
  add("film-with-a-list-of-one-byte.avi", Builder()
                                              .text("RIFF")
                                              .u32(0x2a3bb6)
                                              .text("AVI LIST")
                                              .u32(1)
                                              .fill(3, 0)
                                              .u8(0x1e)
                                              .text("avih8")
                                              .fill(600, 0)
                                              .done());
  add("cr3-box-of-size-zero.cr3", Builder(crx()).raw(box(0, "moov", {})).done());
  add("cr3-box-larger-than-file.cr3", Builder(crx()).raw(box(0x7fffffff, "moov", ByteBuffer(40, 1))).done());
  add("raf-offsets-past-end.raf",
      Builder().text("FUJIFILMCCD-RAW 0201").upto(84).fill(32, 0xff).upto(400).done());
}

}  // namespace

void add_containers(Cases& to) {
  add_sniffs(to);
  add_raw_headers(to);
  add_captures(to);
}

}  // namespace burstsieve::fuzz
