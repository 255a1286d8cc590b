// The mosaic must come back from independent readers exactly as it was written.
#include <doctest/doctest.h>
#include <libraw/libraw.h>

#include <memory>
#include <nlohmann/json.hpp>

#include "files.h"
#include "random.h"
#include "scratch.h"

using namespace burstsieve;
using namespace burstsieve::generate;

namespace {

DngImage image_of(int bits, cv::Size size) {
  DngImage d;
  d.levels = bits == 12 ? SensorLevels{12, 128, 3967} : SensorLevels{16, 512, 15871};
  d.mosaic.create(size);
  Random r(static_cast<std::uint64_t>(bits));
  for (auto& v : d.mosaic) v = static_cast<unsigned short>(r.below(d.levels.white + 1));
  d.mosaic(0, 0) = 0;
  d.mosaic(size.height - 1, size.width - 1) = static_cast<unsigned short>(d.levels.white);
  d.noise = noise_at_iso(1600);
  const cv::Mat3b preview(size, cv::Vec3b(40, 120, 200));
  d.preview = encode_jpeg(preview, {}, nullptr);
  d.preview_width = size.width;
  d.preview_height = size.height;
  return d;
}

Exif exif_of(cv::Size size) {
  Exif e;
  e.model = "SO-2";
  e.serial = "SM7";
  e.local_time_ms = 1776000000057;  // 2026-04-12 13:20:00.057
  e.utc_offset_minutes = -150;
  e.iso = 1600;
  e.exposure_s = 1.0 / 3200;
  e.f_number = 6.3;
  e.width = size.width;
  e.height = size.height;
  e.subject_area = {30, 20, 12, 10};
  return e;
}

}  // namespace

TEST_CASE("LibRaw unpacks every sample and the preview as written") {
  for (int bits : {12, 16}) {
    CAPTURE(bits);
    const scratch::Folder folder;
    const cv::Size size(74, 46);
    const DngImage d = image_of(bits, size);
    const std::string path = folder / "a.dng";
    REQUIRE(write_dng(path, d, exif_of(size)));
    const auto raw = std::make_unique<LibRaw>();
    REQUIRE(raw->open_file(path.c_str()) == LIBRAW_SUCCESS);
    REQUIRE(raw->unpack() == LIBRAW_SUCCESS);
    const auto& data = raw->imgdata;
    REQUIRE(data.sizes.raw_width == size.width);
    REQUIRE(data.sizes.raw_height == size.height);
    CHECK(data.color.maximum == static_cast<unsigned>(d.levels.white));
    CHECK(data.color.black + data.color.cblack[0] + data.color.cblack[6] ==
          static_cast<unsigned>(d.levels.black));
    CHECK(raw->COLOR(0, 0) == 0);  // red
    CHECK(raw->COLOR(1, 1) == 2);  // blue
    int wrong = 0;
    for (int y = 0; y < size.height; ++y)
      for (int x = 0; x < size.width; ++x)
        wrong += data.rawdata.raw_image[y * static_cast<int>(data.sizes.raw_pitch / 2) + x] != d.mosaic(y, x)
                     ? 1
                     : 0;
    CHECK(wrong == 0);
    REQUIRE(raw->unpack_thumb() == LIBRAW_SUCCESS);
    const auto& thumb = data.thumbnail;
    CHECK(thumb.tformat == LIBRAW_THUMBNAIL_JPEG);
    REQUIRE(thumb.tlength == d.preview.size());
    CHECK(
        std::equal(d.preview.begin(), d.preview.end(), reinterpret_cast<const unsigned char*>(thumb.thumb)));
  }
}

TEST_CASE("dcraw's document mode gives the same numbers") {
  if (!scratch::program_exists("dcraw")) {
    MESSAGE("dcraw is not installed; LibRaw's reading stands alone");
    return;
  }
  for (int bits : {12, 16}) {
    CAPTURE(bits);
    const scratch::Folder folder;
    const cv::Size size(64, 40);
    const DngImage d = image_of(bits, size);
    REQUIRE(write_dng(folder / "a.dng", d, exif_of(size)));
    // -D: totally raw; -4: 16-bit linear. PGM, most significant byte first.
    const std::string pgm = scratch::output_of("dcraw -c -D -4 -j -t 0 " + (folder / "a.dng"));
    const auto bytes = static_cast<std::size_t>(size.area()) * 2;
    REQUIRE(pgm.size() > bytes);
    const std::string head = pgm.substr(0, pgm.size() - bytes);
    CHECK(head == "P5\n64 40\n65535\n");
    int wrong = 0;
    std::size_t at = head.size();
    for (unsigned short v : d.mosaic) {
      const int got = static_cast<unsigned char>(pgm[at]) * 256 + static_cast<unsigned char>(pgm[at + 1]);
      wrong += got != v ? 1 : 0;
      at += 2;
    }
    CHECK(wrong == 0);
  }
}

TEST_CASE("exiftool reads the facts of both kinds of file") {
  if (!scratch::program_exists("exiftool")) {
    MESSAGE("exiftool is not installed");
    return;
  }
  const scratch::Folder folder;
  const cv::Size size(74, 46);
  Exif e = exif_of(size);
  e.orientation = 6;
  REQUIRE(write_dng(folder / "a.dng", image_of(16, size), e));
  REQUIRE(write_jpeg(folder / "a.jpg", cv::Mat3b(size, cv::Vec3b(9, 99, 199)), {}, e));
  for (const std::string name : {"a.dng", "a.jpg"}) {
    CAPTURE(name);
    const auto verdict =
        nlohmann::json::parse(scratch::output_of("exiftool -j -n -validate -warning -a " + (folder / name)));
    const auto all = nlohmann::json::parse(scratch::output_of("exiftool -j -n " + (folder / name)))[0];
    CHECK(verdict[0].value("Validate", std::string("?")).substr(0, 1) == "0");
    CHECK(all["Make"] == "Saltmarsh Optics");
    CHECK(all["Model"] == "SO-2");
    CHECK(all["SerialNumber"].get<std::string>() == "SM7");
    CHECK(all["LensModel"] == "Saltmarsh 600mm f/5.6 T");
    CHECK(all["Orientation"] == 6);
    CHECK(all["DateTimeOriginal"] == "2026:04:12 13:20:00");
    CHECK(all["SubSecTimeOriginal"].get<std::string>() == "057");
    CHECK(all["OffsetTimeOriginal"] == "-02:30");
    CHECK(all["ExposureTime"].get<double>() == doctest::Approx(1.0 / 3200));
    CHECK(all["FNumber"].get<double>() == doctest::Approx(6.3));
    CHECK(all["ISO"] == 1600);
    CHECK(all["FocalLength"] == 600);
    CHECK(all["SubjectArea"] == "30 20 12 10");
    CHECK(all["ExifImageWidth"] == 74);
    CHECK(all["ExifImageHeight"] == 46);
  }
  const auto dng = nlohmann::json::parse(scratch::output_of("exiftool -j -n " + (folder / "a.dng")))[0];
  CHECK(dng["BlackLevel"] == 512);
  CHECK(dng["WhiteLevel"] == 15871);
  CHECK(dng["AsShotNeutral"] == "0.5 1 0.6");
  CHECK(dng["CFAPattern2"] == "0 1 1 2");
  // noise_at_iso(1600): S = 16/60000, O = (3 * 16/60000)^2
  const auto profile = dng["NoiseProfile"].get<std::string>();
  CHECK(std::stod(profile) == doctest::Approx(16.0 / 60000));
  CHECK(std::stod(profile.substr(profile.find(' '))) == doctest::Approx(6.4e-7));
}

TEST_CASE("a file that can't be written is an error naming it") {
  const scratch::Folder folder;
  const Status s = write_file(folder.path, {1, 2, 3});
  REQUIRE(!s);
  CHECK(s.error().cause == Cause::io);
  CHECK(s.error().line().find(folder.path) != std::string::npos);
}
