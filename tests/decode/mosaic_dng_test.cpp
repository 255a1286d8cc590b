// read_mosaic: our own reading of plain DNGs, LibRaw's, and dcraw's must be one.
#include <doctest/doctest.h>
#include <libraw/libraw.h>

#include <memory>
#include <opencv2/imgcodecs.hpp>

#include "base/test_data.h"
#include "burstsieve/decode/mosaic.h"
#include "burstsieve/image/orientation.h"
#include "dcraw.h"
#include "dng_maker.h"
#include "jpeg_maker.h"

using namespace decode_test;
using burstsieve::Cause;
using burstsieve::FileKind;
using burstsieve::Limits;
using burstsieve::Region;
namespace dec = burstsieve::decode;  // LibRaw has a global `decode`

namespace {

constexpr int kWidth = 146;
constexpr int kHeight = 98;

struct Case {
  std::string name;
  DngKind kind;
};

std::vector<Case> cases() {
  const ByteBuffer jpeg = make_jpeg(scene(73, 49), {});
  return {
      {"one strip", {}},
      {"strips of 7 rows", {.rows_per_strip = 7}},
      {"tiles", {.tile_width = 32, .tile_height = 16}},
      {"big endian", {.big_endian = true, .rows_per_strip = 10}},
      {"big endian tiles, BGGR",
       {.big_endian = true, .tile_width = 64, .tile_height = 32, .cfa = {2, 1, 1, 0}}},
      {"GRBG", {.cfa = {1, 0, 2, 1}}},
      {"masked border, even", {.active = {4, 6, 130, 80}}},
      {"masked border and crop", {.active = {4, 4, 130, 80}, .crop = {5, 7, 110, 60}}},
      {"black per channel", {.black = {60, 64, 66, 70}, .white = 1000}},
      {"mosaic in a SubIFD", {.preview = jpeg, .preview_size = {73, 49}}},
  };
}

std::vector<Region> regions() {
  return {{0, 0, 1, 1}, {.1, .2, .3, .4}, {.55, .05, .2, .9}, {.999, .999, .001, .001}, {.37, .61, .01, .02}};
}

void check_same(const dec::Mosaic& a, const dec::Mosaic& b) {
  REQUIRE(a.values.size() == b.values.size());
  CHECK(cv::norm(a.values, b.values, cv::NORM_INF) == 0);
  CHECK(a.cfa_side == b.cfa_side);
  CHECK(a.cfa == b.cfa);
  CHECK(a.sensor_x == b.sensor_x);
  CHECK(a.sensor_y == b.sensor_y);
  CHECK(a.sensor_width == b.sensor_width);
  CHECK(a.sensor_height == b.sensor_height);
  CHECK(a.orientation == b.orientation);
  for (std::size_t c = 0; c < 3; ++c) {
    CHECK(a.black[c] == doctest::Approx(b.black[c]));
    CHECK(a.white[c] == doctest::Approx(b.white[c]));
    CHECK(a.as_shot_gain[c] == doctest::Approx(b.as_shot_gain[c]).epsilon(1e-5));
  }
}

}  // namespace

TEST_SUITE("decode/mosaic dng") {
  TEST_CASE("our reading equals LibRaw's: values, phase, levels, place") {
    TempFolder folder;
    for (const Case& c : cases()) {
      // LibRaw 0.20 reads uncompressed tiles as if they were strips; the planted values hold us there.
      if (c.kind.tile_width > 0) continue;
      const auto file = folder.write("a.dng", make_dng(noise_mosaic(kWidth, kHeight), c.kind), FileKind::raw);
      for (const Region& r : regions())
        for (const int o : {1, 3, 6, 7}) {
          CAPTURE(c.name);
          CAPTURE(o);
          const auto ours = dec::read_mosaic(file, r, o, Limits{});
          const auto theirs = dec::read_mosaic_by_libraw(file, r, o, Limits{});
          REQUIRE(ours);
          CAPTURE((theirs ? std::string() : theirs.error().line()));
          REQUIRE(theirs);
          check_same(*ours, *theirs);
        }
    }
  }

  TEST_CASE("planted values are found where they were planted") {
    TempFolder folder;
    for (const Case& c : cases()) {
      CAPTURE(c.name);
      const cv::Mat planted = noise_mosaic(kWidth, kHeight);
      const auto file = folder.write("a.dng", make_dng(planted, c.kind), FileKind::raw);
      const auto all = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{});
      REQUIRE(all);
      cv::Rect where = c.kind.active.empty() ? cv::Rect(0, 0, kWidth, kHeight) : c.kind.active;
      if (!c.kind.crop.empty()) where = c.kind.crop + c.kind.active.tl();
      REQUIRE(all->values.size() == where.size());
      CHECK(cv::norm(all->values, planted(where), cv::NORM_INF) == 0);
      CHECK(all->white[1] == c.kind.white);
      CHECK(all->as_shot_gain[0] == doctest::Approx(2));
      CHECK(all->as_shot_gain[2] == doctest::Approx(1.6));
      // DNG 1.4: the pattern counts from the corner of the active area.
      const cv::Point off = c.kind.crop.empty() ? cv::Point() : c.kind.crop.tl();
      for (int y = 0; y < 2; ++y)
        for (int x = 0; x < 2; ++x)
          CHECK(static_cast<int>(all->colour_at(y, x)) ==
                c.kind.cfa[static_cast<std::size_t>((y + off.y) % 2 * 2 + (x + off.x) % 2)]);
    }
  }

  TEST_CASE("the overview holds rows of the whole picture where it says, in phase") {
    TempFolder folder;
    const cv::Mat planted = noise_mosaic(kWidth, 400);
    for (const bool by_libraw : {false, true}) {  // a linearisation table sends us to LibRaw
      DngKind kind{.cfa = {1, 0, 2, 1}, .active = {4, 6, 130, 380}, .crop = {5, 7, 110, 360}};
      kind.linearisation = by_libraw;
      CAPTURE(by_libraw);
      const auto file = folder.write("a.dng", make_dng(planted, kind), FileKind::raw);
      const auto s = dec::read_sensor(file, {.2, .3, .4, .3}, 1, Limits{});
      REQUIRE(s);
      const auto region = dec::read_mosaic(file, {.2, .3, .4, .3}, 1, Limits{});
      REQUIRE(region);
      check_same(s->region, *region);
      const dec::Mosaic& o = s->overview;
      REQUIRE(o.values.cols == 110);
      CHECK(o.values.rows >= 64);
      CHECK(o.values.rows <= 80);
      CHECK(o.row_step % 2 == 0);
      for (int row = 0; row < o.values.rows; ++row) {
        const cv::Mat want =
            planted.row(6 + o.sensor_row(row)).colRange(4 + o.sensor_x, 4 + o.sensor_x + 110);
        CHECK(cv::norm(o.values.row(row), want, cv::NORM_INF) == 0);
        for (int x = 0; x < 2; ++x)
          CHECK(static_cast<int>(o.colour_at(row, x)) ==
                kind.cfa[static_cast<std::size_t>(o.sensor_row(row) % 2 * 2 + (o.sensor_x + x) % 2)]);
      }
      CHECK(o.sensor_row(o.values.rows - 1) > 7 + 360 - 2 * o.row_step);
    }
  }

  TEST_CASE("odd borders and sizes are LibRaw's, which keeps the pattern whole") {
    TempFolder folder;
    const cv::Mat planted = noise_mosaic(145, 97);
    for (const cv::Rect& active : {cv::Rect(), cv::Rect(3, 5, 128, 80), cv::Rect(4, 5, 129, 81)}) {
      CAPTURE(active);
      const auto file = folder.write("a.dng", make_dng(planted, {.active = active}), FileKind::raw);
      const auto m = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{});
      REQUIRE(m);
      REQUIRE(m->values.size() == cv::Size(m->sensor_width, m->sensor_height));
      // Nearest even corner inside the active area.
      const cv::Rect where((active.x + 1) / 2 * 2, (active.y + 1) / 2 * 2, m->values.cols, m->values.rows);
      CHECK(cv::norm(m->values, planted(where), cv::NORM_INF) == 0);
    }
  }

  TEST_CASE("an upright region finds its photosites in every orientation") {
    TempFolder folder;
    const cv::Mat planted = noise_mosaic(kWidth, kHeight);
    const auto file = folder.write("a.dng", make_dng(planted, {}), FileKind::raw);
    for (int o = 1; o <= 8; ++o) {
      CAPTURE(o);
      const cv::Mat seen = burstsieve::image::upright(planted, o);
      const cv::Rect r(20, 30, 41, 17);
      const Region region{static_cast<double>(r.x) / seen.cols, static_cast<double>(r.y) / seen.rows,
                          static_cast<double>(r.width) / seen.cols,
                          static_cast<double>(r.height) / seen.rows};
      const auto m = dec::read_mosaic(file, region, o, Limits{});
      REQUIRE(m);
      CHECK(m->orientation == o);
      const cv::Mat turned = burstsieve::image::upright(m->values, o);
      REQUIRE(turned.size() == r.size());
      CHECK(cv::norm(turned, seen(r), cv::NORM_INF) == 0);
    }
  }

  TEST_CASE("per-channel black levels reach their channel") {
    TempFolder folder;
    const auto file = folder.write(
        "a.dng", make_dng(noise_mosaic(kWidth, kHeight), {.black = {60, 64, 66, 70}}), FileKind::raw);
    for (const auto& m : {dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{}),
                          dec::read_mosaic_by_libraw(file, {0, 0, 1, 1}, 1, Limits{})}) {
      REQUIRE(m);
      CHECK(m->black[0] == 60);
      CHECK(m->black[1] == 65);
      CHECK(m->black[2] == 70);
    }
  }

  TEST_CASE("dcraw unpacks the same values from the same file") {
    if (!have("dcraw")) {
      MESSAGE("dcraw is not installed: not compared");
      return;
    }
    TempFolder folder;
    const auto file = folder.write(
        "a.dng", make_dng(noise_mosaic(kWidth, kHeight), {.rows_per_strip = 16, .active = {4, 6, 130, 80}}),
        FileKind::raw);
    const auto m = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{});
    REQUIRE(m);
    const cv::Mat theirs = burstsieve::test::by_dcraw(file.path, "-D");
    REQUIRE(m->values.size() == theirs.size());
    CHECK(cv::norm(m->values, theirs, cv::NORM_INF) == 0);
  }

  TEST_CASE("what our own reading leaves to LibRaw still arrives") {
    TempFolder folder;
    const cv::Mat planted = noise_mosaic(kWidth, kHeight);
    const auto file = folder.write("a.dng", make_dng(planted, {.linearisation = true}), FileKind::raw);
    const auto m = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{});
    REQUIRE(m);
    CHECK(cv::norm(m->values, planted, cv::NORM_INF) == 0);
  }

  TEST_CASE("a real sensor's mosaic, wrapped, equals LibRaw's own unpacked values") {
    const std::string path = burstsieve::test::data_cache() + "/halide/apps/images/bayer_raw.png";
    if (::access(path.c_str(), R_OK) != 0) {
      MESSAGE("test data not fetched (tools/test-data.sh): not compared");
      return;
    }
    const cv::Mat sensor = cv::imread(path, cv::IMREAD_UNCHANGED);
    REQUIRE(sensor.type() == CV_16UC1);
    const int width = sensor.cols;
    const int height = sensor.rows;
    TempFolder folder;
    const auto file =
        folder.write("real.dng", make_dng(sensor, {.cfa = {1, 0, 2, 1}, .black = {25}}), FileKind::raw);
    const auto raw = std::make_unique<LibRaw>();
    REQUIRE(raw->open_file(file.path.c_str()) == LIBRAW_SUCCESS);
    REQUIRE(raw->unpack() == LIBRAW_SUCCESS);
    const cv::Mat theirs(height, width, CV_16UC1, raw->imgdata.rawdata.raw_image,
                         raw->imgdata.sizes.raw_pitch);
    const Region r{.25, .5, .25, .25};
    const auto m = dec::read_mosaic(file, r, 1, Limits{});
    REQUIRE(m);
    CHECK(cv::norm(m->values, theirs(cv::Rect(m->sensor_x, m->sensor_y, m->values.cols, m->values.rows)),
                   cv::NORM_INF) == 0);
    if (have("dcraw")) {
      const cv::Mat outside = burstsieve::test::by_dcraw(file.path, "-D");
      REQUIRE(outside.size() == cv::Size(width, height));
      CHECK(cv::norm(theirs, outside, cv::NORM_INF) == 0);
    }
  }
}

TEST_SUITE("decode/mosaic damage") {
  TEST_CASE("a sensor of one value is damage, a clipped region is a finding") {
    TempFolder folder;
    for (const int value : {0, 512, 1023}) {
      const cv::Mat flat(kHeight, kWidth, CV_16UC1, cv::Scalar(value));
      const auto file = folder.write("flat.dng", make_dng(flat, {}), FileKind::raw);
      for (const auto& m : {dec::read_mosaic(file, {.2, .2, .2, .2}, 1, Limits{}),
                            dec::read_mosaic_by_libraw(file, {.2, .2, .2, .2}, 1, Limits{})}) {
        REQUIRE(!m);
        CHECK(m.error().cause == Cause::corrupt);
      }
    }
    cv::Mat clipped = noise_mosaic(kWidth, kHeight);
    clipped(cv::Rect(20, 20, 60, 60)).setTo(1023);
    const auto file = folder.write("clipped.dng", make_dng(clipped, {}), FileKind::raw);
    const auto m = dec::read_mosaic(file, {.2, .3, .1, .1}, 1, Limits{});
    REQUIRE(m);
    CHECK(m->values.at<std::uint16_t>(0, 0) == 1023);
  }

  TEST_CASE("cut short, empty, not a raw, missing") {
    TempFolder folder;
    const ByteBuffer whole = make_dng(noise_mosaic(kWidth, kHeight),
                                      {.preview = make_jpeg(scene(73, 49), {}), .preview_size = {73, 49}});
    const auto cause = [&](const ByteBuffer& bytes) {
      const auto m =
          dec::read_mosaic(folder.write("bad.dng", bytes, FileKind::raw), {0, 0, 1, 1}, 1, Limits{});
      REQUIRE(!m);
      CHECK(m.error().line().find("bad.dng: ") != std::string::npos);
      return m.error().cause;
    };
    CHECK(cause({}) == Cause::truncated);
    CHECK(cause({'h', 'e', 'l', 'l', 'o'}) != Cause::io);
    CHECK(cause(make_jpeg(scene(64, 48), {})) == Cause::unsupported);
    for (const double share : {.01, .1, .5, .9}) {
      CAPTURE(share);
      const auto size = static_cast<std::ptrdiff_t>(static_cast<double>(whole.size()) * share);
      CHECK(cause(ByteBuffer(whole.begin(), whole.begin() + size)) == Cause::truncated);
    }
    burstsieve::FileRef none;
    none.path = "/nonexistent.dng";
    CHECK(dec::read_mosaic(none, {0, 0, 1, 1}, 1, Limits{}).error().cause == Cause::io);
  }

  TEST_CASE("strips that end too early, and a mosaic over the limit") {
    TempFolder folder;
    // The mosaic comes first and the directory last: cutting bytes out of the middle shifts what it points
    // at.
    ByteBuffer whole = make_dng(noise_mosaic(kWidth, kHeight), {});
    const auto file = folder.write("a.dng", whole, FileKind::raw);
    const auto over = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{.max_pixels = kWidth * kHeight - 1});
    REQUIRE(!over);
    CHECK(over.error().cause == Cause::limit);
    CHECK(dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{.max_pixels = kWidth * kHeight}));
    CHECK(dec::read_mosaic(file, {2, 2, 1, 1}, 1, Limits{}).error().cause == Cause::unsupported);
  }

  TEST_CASE("every single changed byte of the directories is survived") {
    TempFolder folder;
    const ByteBuffer whole = make_dng(noise_mosaic(40, 30), {});
    const std::size_t after_pixels = 8 + 40 * 30 * 2;
    int read = 0;
    for (std::size_t at = after_pixels; at < whole.size(); ++at) {
      ByteBuffer bad = whole;
      bad[at] = static_cast<std::uint8_t>(bad[at] ^ 0x81);
      const auto m =
          dec::read_mosaic(folder.write("mutant.dng", bad, FileKind::raw), {0, 0, 1, 1}, 1, Limits{});
      if (m) {
        ++read;
        CHECK(!m->values.empty());
      }
    }
    CHECK(read > 0);
  }

  TEST_CASE("a raw without a mosaic is refused") {
    const std::string path = burstsieve::test::data_cache() +
                             "/kimageformats/autotests/read/raw/RAW_KODAK_C330_FORMAT_NONE_YRGB.raw";
    if (::access(path.c_str(), R_OK) != 0) {
      MESSAGE("test data not fetched (tools/test-data.sh): not tried");
      return;
    }
    burstsieve::FileRef file;
    file.path = path;
    file.kind = FileKind::raw;
    const auto m = dec::read_mosaic(file, {0, 0, 1, 1}, 1, Limits{});
    REQUIRE(!m);
    CHECK(m.error().cause == Cause::unsupported);
  }
}
