// decode_planes on raws: which preview is taken, how it stands, and what happens without one.
#include <doctest/doctest.h>

#include <atomic>
#include <thread>

#include "burstsieve/decode/pixels.h"
#include "dng_maker.h"
#include "jpeg_maker.h"

using namespace decode_test;
using burstsieve::FileKind;
using burstsieve::Limits;
namespace decode = burstsieve::decode;

namespace {

// A Bayer mosaic (RGGB) of a smooth scene: what LibRaw can render.
cv::Mat scene_mosaic(int width, int height) {
  const cv::Mat bgr = scene(width, height);
  cv::Mat m(height, width, CV_16UC1);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const int channel = y % 2 == 0 ? (x % 2 == 0 ? 2 : 1) : (x % 2 == 0 ? 1 : 0);
      m.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(64 + 3 * bgr.at<cv::Vec3b>(y, x)[channel]);
    }
  return m;
}

}  // namespace

TEST_SUITE("decode/pixels raw") {
  TEST_CASE("the embedded preview goes through byte for byte as if it were the file") {
    TempFolder folder;
    const ByteBuffer jpeg = make_jpeg(scene(900, 600), {.h = 2, .v = 1});
    const auto raw = folder.write(
        "a.dng", make_dng(scene_mosaic(1800, 1200), {.preview = jpeg, .preview_size = {900, 600}}),
        FileKind::raw);
    const auto from_raw = decode::decode_planes(raw, 1, Limits{});
    const auto from_jpeg = decode::decode_planes(folder.write("a.jpg", jpeg), 1, Limits{});
    REQUIRE(from_raw);
    REQUIRE(from_jpeg);
    CHECK(from_raw->source == "embedded preview");
    CHECK(from_raw->damage == "");
    CHECK(from_raw->full_per_pixel == doctest::Approx(2));
    CHECK(cv::norm(from_raw->luma, from_jpeg->luma, cv::NORM_INF) == 0);
    CHECK(cv::norm(from_raw->cr, from_jpeg->cr, cv::NORM_INF) == 0);
  }

  TEST_CASE("of several previews the largest is taken") {
    TempFolder folder;
    const auto raw =
        folder.write("a.dng",
                     make_dng(scene_mosaic(1800, 1200), {.big_endian = true,
                                                         .preview = make_jpeg(scene(160, 120), {}),
                                                         .preview_size = {160, 120},
                                                         .second_preview = make_jpeg(scene(1790, 1194), {}),
                                                         .second_size = {1790, 1194}}),
                     FileKind::raw);
    const auto planes = decode::decode_planes(raw, 1, Limits{});
    REQUIRE(planes);
    CHECK(planes->luma.size() == cv::Size(1790, 1194));
    CHECK(planes->full_per_pixel == 1);  // full size less a border
  }

  TEST_CASE("a preview that already stands upright is not turned again") {
    TempFolder folder;
    const auto make = [&](cv::Size preview) {
      return folder.write(
          "a.dng",
          make_dng(scene_mosaic(1800, 1200),
                   {.preview = make_jpeg(scene(preview.width, preview.height), {}), .preview_size = preview}),
          FileKind::raw);
    };
    const auto lying = decode::decode_planes(make({900, 600}), 6, Limits{});
    REQUIRE(lying);
    CHECK(lying->orientation == 6);
    CHECK(lying->upright_width() == 600);
    const auto standing = decode::decode_planes(make({600, 900}), 6, Limits{});
    REQUIRE(standing);
    CHECK(standing->orientation == 1);
    CHECK(standing->upright_width() == 600);
    CHECK(standing->full_per_pixel == doctest::Approx(2));
  }

  TEST_CASE("without a preview, or with a tiny one, LibRaw's half-size rendering stands in") {
    TempFolder folder;
    const cv::Mat mosaic = scene_mosaic(1800, 1200);
    for (const DngKind& kind :
         {DngKind{}, DngKind{.preview = make_jpeg(scene(160, 120), {}), .preview_size = {160, 120}}}) {
      const auto planes =
          decode::decode_planes(folder.write("a.dng", make_dng(mosaic, kind), FileKind::raw), 1, Limits{});
      REQUIRE(planes);
      CHECK(planes->luma.size() == cv::Size(900, 600));
      CHECK(planes->full_per_pixel == doctest::Approx(2));
      // The same scene, seen through a made-up colour matrix: its green must rise and fall with the luma.
      cv::Mat green(600, 900, CV_32F);
      for (int y = 0; y < 600; ++y)
        for (int x = 0; x < 900; ++x) green.at<float>(y, x) = mosaic.at<std::uint16_t>(2 * y, 2 * x + 1);
      cv::Mat luma;
      planes->luma.convertTo(luma, CV_32F);
      cv::Scalar mg, sg, ml, sl;
      cv::meanStdDev(green, mg, sg);
      cv::meanStdDev(luma, ml, sl);
      const double together = cv::mean((green - mg).mul(luma - ml))[0] / (sg[0] * sl[0]);
      CHECK(together > .8);
    }
  }

  TEST_CASE("a container nobody knows goes through by the largest JPEG in it") {
    TempFolder folder;
    ByteBuffer unknown(5000, 0x11);
    const ByteBuffer small = make_jpeg(scene(160, 120), {});
    const ByteBuffer large = make_jpeg(scene(900, 600), {});
    unknown.insert(unknown.end(), small.begin(), small.end());
    unknown.insert(unknown.end(), large.begin(), large.end());
    unknown.resize(unknown.size() + 3000, 0x22);
    const auto planes = decode::decode_planes(folder.write("new.xyz", unknown, FileKind::raw), 8, Limits{});
    REQUIRE(planes);
    CHECK(planes->luma.size() == cv::Size(900, 600));
    CHECK(planes->damage == "");
    CHECK(planes->source == "embedded preview");
    const auto nothing =
        decode::decode_planes(folder.write("no.xyz", ByteBuffer(5000, 0x11), FileKind::raw), 1, Limits{});
    REQUIRE(!nothing);
    CHECK(nothing.error().cause == burstsieve::Cause::unsupported);
  }

  TEST_CASE("several threads get the same planes as one") {
    TempFolder folder;
    const auto rendered = folder.write("a.dng", make_dng(scene_mosaic(900, 600), {}), FileKind::raw);
    const auto jpeg = folder.write("a.jpg", make_jpeg(scene(900, 600), {}));
    for (const auto& file : {rendered, jpeg}) {
      const auto alone = decode::decode_planes(file, 1, Limits{});
      REQUIRE(alone);
      std::atomic<int> wrong = 0;
      std::vector<std::thread> threads;
      for (int i = 0; i < 4; ++i)
        threads.emplace_back([&] {
          for (int k = 0; k < 3; ++k) {
            const auto planes = decode::decode_planes(file, 1, Limits{});
            if (!planes || cv::norm(planes->luma, alone->luma, cv::NORM_INF) != 0 ||
                cv::norm(planes->cb8, alone->cb8, cv::NORM_INF) != 0)
              ++wrong;
          }
        });
      for (std::thread& t : threads) t.join();
      CHECK(wrong == 0);
    }
  }

  TEST_CASE("limits of size and time hold for raws") {
    TempFolder folder;
    const auto file = folder.write("a.dng", make_dng(scene_mosaic(900, 600), {}), FileKind::raw);
    const auto cause = [&](const Limits& limits) {
      const auto planes = decode::decode_planes(file, 1, limits);
      REQUIRE(!planes);
      return planes.error().cause;
    };
    CHECK(cause({.max_pixels = 900 * 600 - 1}) == burstsieve::Cause::limit);
    CHECK(cause({.max_side = 899}) == burstsieve::Cause::limit);
    CHECK(cause({.max_file_bytes = 1000}) == burstsieve::Cause::limit);
    CHECK(cause({.max_decode_seconds = 0}) == burstsieve::Cause::limit);
  }

  TEST_CASE("a raw cut inside its preview is damaged, never silent") {
    TempFolder folder;
    // The mosaic stands before the preview in these files: cut it off and the directories are gone, so cut a
    // copy whose preview was damaged before it was wrapped.
    const ByteBuffer jpeg = make_jpeg(scene(900, 600), {});
    const ByteBuffer half(jpeg.begin(), jpeg.begin() + static_cast<std::ptrdiff_t>(jpeg.size() / 2));
    const auto raw = folder.write(
        "a.dng", make_dng(scene_mosaic(1800, 1200), {.preview = half, .preview_size = {900, 600}}),
        FileKind::raw);
    const auto planes = decode::decode_planes(raw, 1, Limits{});
    REQUIRE(planes);
    CHECK(planes->damage != "");
    const ByteBuffer whole =
        make_dng(scene_mosaic(1800, 1200), {.preview = jpeg, .preview_size = {900, 600}});
    for (const double share : {.1, .5, .9}) {
      const auto cut = decode::decode_planes(
          folder.write("cut.dng",
                       ByteBuffer(whole.begin(),
                                  whole.begin() +
                                      static_cast<std::ptrdiff_t>(static_cast<double>(whole.size()) * share)),
                       FileKind::raw),
          1, Limits{});
      CHECK((cut ? cut->damage != "" : cut.error().cause == burstsieve::Cause::truncated));
    }
  }

  TEST_CASE("real raw headers and odd makers: an answer or one line, never a crash") {
    const std::string folder = test::data_cache() + "/libimage-exiftool-perl/t/images/";
    if (::access(folder.c_str(), R_OK) != 0) {
      MESSAGE("test data not fetched (tools/test-data.sh): not tried");
      return;
    }
    for (const char* name : {"CanonRaw.crw", "CanonRaw.cr2", "FujiFilm.raf", "Minolta.mrw", "Panasonic.rw2",
                             "PhaseOne.iiq", "Nikon.nef", "Sony.arw", "Olympus.orf", "DNG.dng"}) {
      burstsieve::FileRef file;
      file.path = folder + name;
      file.kind = FileKind::raw;
      const auto planes = decode::decode_planes(file, 1, Limits{});
      if (planes)
        CHECK(planes->luma.cols > 0);
      else
        CHECK(planes.error().line().find('\n') == std::string::npos);
    }
  }
}
