#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <thread>

#include "burstsieve/decode/metadata.h"
#include "metadata_bytes.h"

namespace burstsieve::decode {
namespace {

namespace fs = std::filesystem;

// A file that is gone when the test is.
class Scratch {
 public:
  Scratch(const ByteBuffer& bytes, const std::string& suffix) {
    static int number = 0;
    path_ = fs::temp_directory_path() /
            ("burstsieve-metadata-" + std::to_string(::getpid()) + "-" + std::to_string(++number) + suffix);
    std::ofstream(path_, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  ~Scratch() {
    std::error_code ignored;
    fs::remove(path_, ignored);
  }
  std::string path() const { return path_.string(); }

 private:
  fs::path path_;
};

Directory camera(std::uint32_t orientation = 1) {
  return {{0x010f, ascii("Plover")}, {0x0110, ascii("Plover One")}, {0x0112, shorts({orientation})}};
}
Directory shot() {
  return {{0x829a, rational(1, 2000)}, {0x829d, rational(56, 10)},
          {0x8827, shorts({1600})},    {0x9003, ascii("2024:05:06 07:08:09")},
          {0x9011, ascii("+02:00")},   {0x9291, ascii("37")},
          {0x920a, rational(600, 1)},  {0xa431, ascii("4711")},
          {0xa434, ascii("600mm F4")}};
}

// Seconds from 1970-01-01 to 2024-05-06 07:08:09, by `date -u -d '2024-05-06 07:08:09' +%s`.
constexpr std::int64_t kShotSeconds = 1'714'979'289;

Capture read(const ByteBuffer& bytes, const std::string& suffix = ".jpg", std::size_t head = kMetadataHead) {
  const Scratch file(bytes, suffix);
  const auto c = read_capture_at(file.path(), suffix != ".jpg", Limits{}, head);
  REQUIRE(c);
  return *c;
}

TEST_CASE("the standard fields of a JPEG") {
  const Capture c = read(jpeg(tiff(camera(), shot()), 6000, 4000));
  CHECK(c.make == "Plover");
  CHECK(c.model == "Plover One");
  CHECK(c.serial == "4711");
  CHECK(c.lens == "600mm F4");
  CHECK(c.exposure_s == doctest::Approx(.0005));
  CHECK(c.f_number == doctest::Approx(5.6));
  CHECK(c.iso == doctest::Approx(1600));
  CHECK(c.focal_mm == doctest::Approx(600));
  CHECK(c.time_ms == kShotSeconds * 1000 + 370 - 2 * 3'600'000);  // UTC
  CHECK(c.subsecond_known);
  CHECK(c.utc_offset_minutes == 120);
  CHECK(c.width == 6000);
  CHECK(c.height == 4000);
  CHECK_FALSE(c.af);
  CHECK(c.drive == DriveMode::unknown);
  CHECK(c.notes.empty());
}

TEST_CASE("size and focus area are upright") {
  Directory exif = shot();
  exif[0x9214] = shorts({4500, 1000, 600, 400});
  const Capture c = read(jpeg(tiff(camera(6), exif), 6000, 4000));
  CHECK(c.orientation == 6);
  CHECK(c.width == 4000);
  CHECK(c.height == 6000);
  REQUIRE(c.af);
  // Orientation 6 is shown turned 90 degrees clockwise: x = 1 - y', y = x'.
  CHECK(c.af->box.centre_x() == doctest::Approx(.75));
  CHECK(c.af->box.centre_y() == doctest::Approx(.75));
  CHECK(c.af->box.w == doctest::Approx(.1));
  CHECK(c.af->box.h == doctest::Approx(.1));
}

TEST_CASE("time falls back to the digitised and the file time") {
  Directory exif = shot();
  exif.erase(0x9003);
  exif[0x9004] = ascii("2024:05:06 07:08:09");
  exif[0x9292] = ascii("5");
  exif.erase(0x9011);
  Capture c = read(jpeg(tiff(camera(), exif), 60, 40));
  CHECK(c.time_ms == kShotSeconds * 1000 + 500);
  CHECK_FALSE(c.utc_offset_minutes);
  exif.erase(0x9004);
  Directory first = camera();
  first[0x0132] = ascii("2024:05:06 07:08:09");
  c = read(jpeg(tiff(first, exif), 60, 40));
  CHECK(c.time_ms == kShotSeconds * 1000);
  CHECK_FALSE(c.subsecond_known);
}

TEST_CASE("values that stand for unknown stay unset") {
  Directory exif{{0x829a, rational(0, 0)},
                 {0x829d, rational(0, 1)},
                 {0x8827, shorts({65535})},
                 {0x9003, ascii("0000:00:00 00:00:00")},
                 {0x920a, rational(5, 0)}};
  Directory first = camera();
  first[0x0112] = shorts({77});
  Capture c = read(jpeg(tiff(first, exif), 60, 40));
  CHECK_FALSE(c.exposure_s);
  CHECK_FALSE(c.f_number);
  CHECK_FALSE(c.iso);
  CHECK_FALSE(c.time_ms);
  CHECK_FALSE(c.focal_mm);
  CHECK(c.orientation == 1);
  exif[0x8832] = longs({102400});  // RecommendedExposureIndex, for sensitivities a short can't hold
  c = read(jpeg(tiff(first, exif), 60, 40));
  CHECK(c.iso == doctest::Approx(102400));
}

TEST_CASE("a frame header beyond the head is found by reading on") {
  const ByteBuffer far = jpeg(tiff(camera(), shot()), 6000, 4000, 400'000);
  CHECK(read(far).width == 6000);
  // The same file through heads of any size gives the same capture.
  const Capture whole = read(far, ".jpg", far.size());
  for (const std::size_t head : {0u, 1u, 16u, 300u, 1000u, 70'000u, 300'000u})
    CHECK(read(far, ".jpg", head) == whole);
}

TEST_CASE("a TIFF-based raw with its directory at the end is read whole") {
  Directory first = camera();
  first[0xc612] = Entry{1, 4, {1, 4, 0, 0}};  // DNGVersion
  first[0x0100] = longs({6000});
  first[0x0101] = longs({4000});
  first[0x00fe] = longs({0});
  const ByteBuffer late = tiff(first, shot(), 600'000);
  const Capture c = read(late, ".dng");
  CHECK(c.model == "Plover One");
  CHECK(c.iso == doctest::Approx(1600));
  CHECK(c.width == 6000);
  CHECK(c.time_ms == kShotSeconds * 1000 + 370 - 2 * 3'600'000);
}

TEST_CASE("a DNG's size is its default crop") {
  Directory first = camera();
  first[0xc612] = Entry{1, 4, {1, 4, 0, 0}};
  first[0x0100] = longs({6032});
  first[0x0101] = longs({4024});
  first[0x00fe] = longs({0});
  first[0xc620] = longs({6000, 4000});
  const Capture c = read(tiff(first, shot()), ".dng");
  CHECK(c.width == 6000);
  CHECK(c.height == 4000);
}

TEST_CASE("a lens without a name is described by its numbers") {
  Directory exif = shot();
  exif.erase(0xa434);
  ByteBuffer four;
  for (const std::uint32_t v : {1000u, 4000u, 45u, 56u}) {
    put32(four, v);
    put32(four, 10);
  }
  exif[0xa432] = Entry{5, 4, four};
  CHECK(read(jpeg(tiff(camera(), exif), 60, 40)).lens == "100-400mm f/4.5-5.6");
  four.clear();
  for (const std::uint32_t v : {6000u, 6000u, 40u, 40u}) {
    put32(four, v);
    put32(four, 10);
  }
  exif[0xa432] = Entry{5, 4, four};
  CHECK(read(jpeg(tiff(camera(), exif), 60, 40)).lens == "600mm f/4");
  four[0] = four[1] = four[2] = four[3] = 0;  // 0 mm
  exif[0xa432] = Entry{5, 4, four};
  CHECK(read(jpeg(tiff(camera(), exif), 60, 40)).lens.empty());
}

TEST_CASE("a file cut anywhere still is a frame") {
  const ByteBuffer whole = jpeg(tiff(camera(), shot()), 6000, 4000);
  for (std::size_t size = 0; size <= whole.size(); size += 7) {
    const Scratch file(ByteBuffer(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(size)), ".jpg");
    const auto c = read_capture_at(file.path(), false, Limits{});
    CAPTURE(size);
    CHECK(c);
  }
}

TEST_CASE("what is no photograph at all gives an empty capture and says why") {
  for (const bool raw : {false, true}) {
    const Scratch file(ByteBuffer(5000, 'x'), ".nef");
    const auto c = read_capture_at(file.path(), raw, Limits{});
    REQUIRE(c);
    CHECK(c->make.empty());
    CHECK_FALSE(c->notes.empty());
  }
}

TEST_CASE("a missing file is an io error, a huge one is over the limit") {
  FileRef none;
  none.path = "/nonexistent/frame.jpg";
  const auto missing = read_capture(none, Limits{});
  REQUIRE_FALSE(missing);
  CHECK(missing.error().cause == Cause::io);
  CHECK(missing.error().file == none.path);
  const Scratch file(ByteBuffer(1001, 0), ".jpg");
  FileRef big;
  big.path = file.path();
  Limits limits;
  limits.max_file_bytes = 1000;
  const auto over = read_capture(big, limits);
  REQUIRE_FALSE(over);
  CHECK(over.error().cause == Cause::limit);
}

TEST_CASE("names that mean something to the metadata library are only names") {
  const fs::path before = fs::current_path();
  FileRef file;
  for (const char* name : {"-", "http://x/y.jpg", "data:abc"}) {
    file.path = name;
    const auto c = read_capture(file, Limits{});
    CHECK_FALSE(c);
  }
  CHECK(fs::current_path() == before);
}

TEST_CASE("eight threads read the same as one") {
  Directory exif = shot();
  exif[0x9214] = shorts({3000, 2000});
  const Scratch file(jpeg(tiff(camera(), exif), 6000, 4000), ".jpg");
  const auto expected = read_capture_at(file.path(), false, Limits{});
  REQUIRE(expected);
  std::vector<int> same(8, 0);
  std::vector<std::thread> threads;
  for (std::size_t t = 0; t < same.size(); ++t)
    threads.emplace_back([&, t] {
      for (int i = 0; i < 25; ++i) {
        const auto c = read_capture_at(file.path(), false, Limits{});
        if (c && *c == *expected) ++same[t];
      }
    });
  for (auto& t : threads) t.join();
  for (const int n : same) CHECK(n == 25);
}

}  // namespace
}  // namespace burstsieve::decode
