// JPEGs that say more than they hold.
#include <algorithm>
#include <opencv2/core.hpp>

#include "builder.h"
#include "cases.h"
#include "jpeg.h"

namespace burstsieve::fuzz {
namespace {

constexpr std::uint8_t kSof = 0xc0, kSos = 0xda, kDht = 0xc4, kDqt = 0xdb;

// A picture of our own encoder: 64 x 48 with detail, 4:2:0, under 4 KB.
const ByteBuffer& picture() {
  static const ByteBuffer bytes = [] {
    cv::Mat m(48, 64, CV_8UC3);
    for (int y = 0; y < m.rows; ++y)
      for (int x = 0; x < m.cols; ++x)
        m.at<cv::Vec3b>(y, x) = cv::Vec3b(static_cast<uchar>(x * 4), static_cast<uchar>(y * 5 + x % 7 * 9),
                                          static_cast<uchar>((x / 8 + y / 8) % 2 * 120 + 60));
    return decode::encode_jpeg(m, 70);
  }();
  return bytes;
}

std::size_t marker(const ByteBuffer& b, std::uint8_t code) {
  for (std::size_t i = 2; i + 4 < b.size();) {
    if (b[i + 1] == code) return i;
    i += 2 + static_cast<std::size_t>(b[i + 2] << 8 | b[i + 3]);
  }
  return b.size();
}

std::size_t segment_size(const ByteBuffer& b, std::size_t at) {
  return 2 + static_cast<std::size_t>(b[at + 2] << 8 | b[at + 3]);
}

ByteBuffer of_size(int width, int height) {
  ByteBuffer b = picture();
  const std::size_t sof = marker(b, kSof);
  b[sof + 5] = static_cast<std::uint8_t>(height >> 8);
  b[sof + 6] = static_cast<std::uint8_t>(height & 255);
  b[sof + 7] = static_cast<std::uint8_t>(width >> 8);
  b[sof + 8] = static_cast<std::uint8_t>(width & 255);
  return b;
}

ByteBuffer without(std::uint8_t code) {
  ByteBuffer b = picture();
  for (std::size_t at = marker(b, code); at < b.size(); at = marker(b, code)) {
    const auto from = b.begin() + static_cast<std::ptrdiff_t>(at);
    b.erase(from, from + static_cast<std::ptrdiff_t>(segment_size(b, at)));
  }
  return b;
}

// One byte of the frame header changed: 4 precision, 9 components, 11 sampling of the first.
ByteBuffer with_frame_byte(std::size_t at, std::uint8_t value) {
  ByteBuffer b = picture();
  b[marker(b, kSof) + at] = value;
  return b;
}

ByteBuffer data_from(std::size_t into, const ByteBuffer& what) {
  ByteBuffer b = picture();
  const std::size_t sos = marker(b, kSos);
  const std::size_t at = sos + segment_size(b, sos) + into;
  for (std::size_t i = 0; i < what.size() && at + i < b.size(); ++i) b[at + i] = what[i];
  return b;
}

// Progressive, grey, 16 x 16: `scans` empty first scans.
ByteBuffer of_many_scans(int scans) {
  Builder b(ByteOrder::big);
  b.u16(0xffd8).u16(0xffdb).u16(67).u8(0).fill(64, 1);
  b.u16(0xffc2).u16(11).u8(8).u16(16).u16(16).u8(1).u8(1).u8(0x11).u8(0);
  b.u16(0xffc4).u16(20).u8(0).u8(1).fill(15, 0).u8(0);  // one code: difference 0
  for (int i = 0; i < scans; ++i)
    b.u16(0xffda).u16(8).u8(1).u8(1).u8(0).u8(0).u8(0).u8(i == 0 ? 0x0d : 0xdc).u8(0);
  return b.u16(0xffd9).done();
}

}  // namespace

void add_jpegs(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"jpeg", name, bytes}); };
  add("whole.jpg", picture());
  add("empty-file.jpg", {});
  add("start-marker-only.jpg", {0xff, 0xd8});
  add("65500x65500-in-300-bytes.jpg", Builder(ByteOrder::big)
                                          .u16(0xffd8)
                                          .u16(0xffc0)
                                          .u16(11)
                                          .u8(8)
                                          .u16(65500)
                                          .u16(65500)
                                          .u8(1)
                                          .u8(1)
                                          .u8(0x11)
                                          .u8(0)
                                          .u16(0xffda)
                                          .u16(8)
                                          .u8(1)
                                          .u8(1)
                                          .u8(0)
                                          .u8(0)
                                          .u8(63)
                                          .u8(0)
                                          .upto(300)
                                          .done());
  add("1024x1000-in-2-kb.jpg", of_size(1024, 1000));
  add("no-height.jpg", of_size(64, 0));
  add("one-row-too-many.jpg", of_size(64, 49));
  ByteBuffer cut = picture();
  cut.resize(cut.size() * 3 / 4);
  add("cut-in-the-data.jpg", cut);
  ByteBuffer no_data = picture();
  no_data.resize(marker(no_data, kSos));
  add("cut-before-the-data.jpg", no_data);
  ByteBuffer endless = picture();
  endless.resize(endless.size() - 2);
  add("no-end-marker.jpg", endless);
  ByteBuffer tail = picture();
  tail.insert(tail.end(), 500, 0xa5);
  add("other-bytes-behind-the-end.jpg", tail);
  add("standard-huffman-tables-left-out.jpg", without(kDht));
  add("no-quantisation-tables.jpg", without(kDqt));
  add("twelve-bit.jpg", with_frame_byte(4, 12));
  add("arithmetic-coding.jpg", [] {
    ByteBuffer b = picture();
    b[marker(b, kSof) + 1] = 0xc9;
    return b;
  }());
  add("sampling-three-by-three.jpg", with_frame_byte(11, 0x33));
  add("sampling-zero.jpg", with_frame_byte(11, 0x00));
  add("second-frame-header-in-the-data.jpg", data_from(20, Builder(ByteOrder::big)
                                                               .u16(0xffc0)
                                                               .u16(17)
                                                               .u8(8)
                                                               .u16(65500)
                                                               .u16(65500)
                                                               .u8(3)
                                                               .u8(1)
                                                               .u8(0x44)
                                                               .u8(0)
                                                               .u8(2)
                                                               .u8(0x11)
                                                               .u8(1)
                                                               .u8(3)
                                                               .u8(0x11)
                                                               .u8(1)
                                                               .done()));
  add("data-of-zeros.jpg", data_from(10, ByteBuffer(4000, 0)));
  add("data-of-ones.jpg", data_from(10, ByteBuffer(4000, 0xff)));
  add("restart-marker-out-of-nowhere.jpg", data_from(30, {0xff, 0xd3}));
  add("end-marker-amid-the-data.jpg", data_from(30, {0xff, 0xd9}));
  add("two-hundred-scans.jpg", of_many_scans(200));
  add("segment-past-end.jpg",
      Builder(ByteOrder::big).u16(0xffd8).u16(0xffe1).u16(0xffff).text("Exif").done());
}

}  // namespace burstsieve::fuzz
