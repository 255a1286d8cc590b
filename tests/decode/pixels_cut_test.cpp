// What is cut from the planes: 1/8 image, crops, thumbnail; upright for all eight orientations.
#include <doctest/doctest.h>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/downscale.h"
#include "jpeg_maker.h"

using namespace decode_test;
using burstsieve::Limits;
using burstsieve::Region;
namespace decode = burstsieve::decode;

namespace {

// Upright by the words of Exif 2.32, tag 0x0112: where row 0 and column 0 are in the visible picture.
// Pixel by pixel, independent of the code under test.
cv::Mat by_definition(const cv::Mat& m, int orientation) {
  const bool turned = orientation >= 5;
  cv::Mat out(turned ? m.cols : m.rows, turned ? m.rows : m.cols, m.type());
  for (int row = 0; row < m.rows; ++row)
    for (int column = 0; column < m.cols; ++column) {
      int y = 0;
      int x = 0;
      switch (orientation) {
        case 1:
          y = row;
          x = column;
          break;  // top, left
        case 2:
          y = row;
          x = m.cols - 1 - column;
          break;  // top, right
        case 3:
          y = m.rows - 1 - row;
          x = m.cols - 1 - column;
          break;  // bottom, right
        case 4:
          y = m.rows - 1 - row;
          x = column;
          break;  // bottom, left
        case 5:
          x = row;
          y = column;
          break;  // left, top
        case 6:
          x = m.rows - 1 - row;
          y = column;
          break;  // right, top
        case 7:
          x = m.rows - 1 - row;
          y = m.cols - 1 - column;
          break;  // right, bottom
        default:
          x = row;
          y = m.cols - 1 - column;
          break;  // left, bottom
      }
      if (m.channels() == 1)
        out.at<uchar>(y, x) = m.at<uchar>(row, column);
      else
        out.at<cv::Vec3b>(y, x) = m.at<cv::Vec3b>(row, column);
    }
  return out;
}

decode::Planes planes_of(const cv::Mat& bgr, const JpegKind& kind, int orientation) {
  TempFolder folder;
  auto planes = decode::decode_planes(folder.write("a.jpg", make_jpeg(bgr, kind)), orientation, Limits{});
  REQUIRE(planes);
  return *std::move(planes);
}

}  // namespace

TEST_SUITE("decode/pixels cut") {
  TEST_CASE("every cut is upright for all eight orientations") {
    const cv::Mat bgr = scene(203, 117);
    const auto flat = planes_of(bgr, {}, 1);
    const cv::Mat eighth = decode::eighth_colour(flat);
    const cv::Mat colour = decode::crop_colour(flat, {0, 0, 1, 1}).bgr;
    for (int o = 1; o <= 8; ++o) {
      CAPTURE(o);
      const auto planes = planes_of(bgr, {}, o);
      const cv::Mat luma = by_definition(flat.luma, o);
      CHECK(planes.upright_width() == luma.cols);
      CHECK(planes.upright_height() == luma.rows);
      CHECK(cv::norm(decode::eighth_colour(planes), by_definition(eighth, o), cv::NORM_INF) == 0);
      for (const Region& r :
           {Region{0, 0, 1, 1}, {.1, .2, .3, .15}, {.71, .05, .29, .9}, {.5, .5, 1e-6, 1e-6}}) {
        const auto crop = decode::crop_luma(planes, r);
        REQUIRE(!crop.luma.empty());
        CHECK(crop.luma.size() == crop.where.size());
        CHECK(cv::norm(crop.luma, luma(crop.where), cv::NORM_INF) == 0);
        const auto bgr_crop = decode::crop_colour(planes, r);
        CHECK(bgr_crop.where == crop.where);
        CHECK(cv::norm(bgr_crop.bgr, by_definition(colour, o)(crop.where), cv::NORM_INF) <= 1);
        CHECK(crop.where.x <= r.x * luma.cols + 1e-3);
        CHECK(crop.where.br().x >= r.right() * luma.cols - 1e-3);
        CHECK(crop.where.x > r.x * luma.cols - 1);
        CHECK(crop.where.br().y < r.bottom() * luma.rows + 1);
      }
    }
  }

  TEST_CASE("a region outside the frame gives nothing, one across its edge what is inside") {
    const auto planes = planes_of(scene(100, 60), {}, 6);
    CHECK(decode::crop_luma(planes, {1.5, 0, .2, .2}).luma.empty());
    CHECK(decode::crop_colour(planes, {0, 0, 0, 0}).bgr.empty());
    CHECK(decode::crop_luma(planes, {-1, -1, 3, 3}).where == cv::Rect(0, 0, 60, 100));
  }

  TEST_CASE("the 1/8 image is the area mean of the colour picture") {
    const auto planes = planes_of(scene(320, 160), {.h = 2, .v = 1}, 1);
    const cv::Mat eighth = decode::eighth_colour(planes);
    cv::Mat mean;
    cv::resize(decode::crop_colour(planes, {0, 0, 1, 1}).bgr, mean, eighth.size(), 0, 0, cv::INTER_AREA);
    // Not equal: averaging before and after the colour conversion differ by rounding, and by the half sample
    // that interpolated chroma reaches over a block's border.
    cv::Mat difference;
    cv::absdiff(eighth, mean, difference);
    CHECK(cv::mean(difference)[0] < 1.5);
    CHECK(cv::mean(difference)[1] < 1.5);
    CHECK(cv::mean(difference)[2] < 1.5);
  }

  TEST_CASE("the thumbnail is upright, no longer than asked, never enlarged, and decodes to the picture") {
    for (const cv::Size& size :
         {cv::Size(2700, 1800), cv::Size(1620, 1080), cv::Size(700, 467), cv::Size(50, 31)})
      for (const JpegKind& kind :
           {JpegKind{}, JpegKind{.h = 4, .v = 1}, JpegKind{.h = 1, .v = 1, .grey = true}})
        for (const int o : {1, 6}) {
          CAPTURE(size);
          CAPTURE(o);
          CAPTURE(kind.h);
          const auto planes = planes_of(scene(size.width, size.height), kind, o);
          const cv::Mat eighth = decode::eighth_colour(planes);
          TempFolder folder;
          const auto file = folder.write("t.jpg", decode::thumbnail(planes, eighth, 320));
          const auto back = decode::decode_planes(file, 1, Limits{});
          REQUIRE(back);
          CHECK(back->damage == "");
          CHECK(std::max(back->luma.cols, back->luma.rows) == std::min(320, size.width));
          cv::Mat expected;
          cv::resize(decode::crop_luma(planes, {0, 0, 1, 1}).luma, expected, back->luma.size(), 0, 0,
                     cv::INTER_AREA);
          cv::Mat difference;
          cv::absdiff(expected, back->luma, difference);
          CHECK(cv::mean(difference)[0] < 4);
        }
  }

  TEST_CASE("a part of the frame, reduced: the area mean of what crop_colour gives, upright") {
    for (const JpegKind& kind :
         {JpegKind{}, JpegKind{.h = 2, .v = 1}, JpegKind{.h = 1, .v = 1, .grey = true}})
      for (const int o : {1, 6}) {
        const auto planes = planes_of(scene(1200, 800), kind, o);
        const cv::Mat eighth = decode::eighth_colour(planes);
        for (const Region& r : {Region{.25, .25, .5, .5}, {.6, 0, .4, .25}, {0, 0, 1, 1}})
          for (const int side : {50, 224}) {
            CAPTURE(o);
            CAPTURE(side);
            const cv::Mat part = decode::picture_of_part(planes, eighth, r, side);
            REQUIRE(!part.empty());
            CHECK(part.type() == CV_8UC3);
            // Cut from the 1/8 image where that is large enough.
            const double longest = std::max(r.w * planes.upright_width(), r.h * planes.upright_height());
            if (longest / 8 < side - 2)
              CHECK(std::max(part.cols, part.rows) == std::min(side, cvRound(longest)));
            cv::Mat expected, difference;
            cv::resize(decode::crop_colour(planes, r).bgr, expected, part.size(), 0, 0, cv::INTER_AREA);
            cv::absdiff(expected, part, difference);
            CHECK(cv::mean(difference)[0] < 5);
            CHECK(cv::mean(difference)[1] < 5);
          }
      }
    CHECK(decode::picture_of_part(planes_of(scene(100, 60), {}, 1), {}, {2, 2, .1, .1}, 50).empty());
  }

  TEST_CASE("a rendered region is upright, as long as asked, and shows the pixels of that place") {
    const auto flat = planes_of(scene(900, 600), {}, 1);
    for (const int o : {1, 3, 6, 8})
      for (const Region& r : {Region{0, 0, 1, 1}, {.25, .4, .5, .3}, {.9, .9, .5, .5}, {.31, .62, .05, .04}})
        for (const int side : {40, 150, 300, 5000}) {
          CAPTURE(o);
          CAPTURE(side);
          CAPTURE(r.x);
          const auto planes = planes_of(scene(900, 600), {}, o);
          const auto out = decode::rendered(planes, decode::eighth_colour(planes), r, side, 95);
          const auto crop = decode::crop_luma(planes, r);
          CHECK(std::max(out.width, out.height) == std::min(side, std::max(crop.luma.cols, crop.luma.rows)));
          CHECK(out.region.x == doctest::Approx(static_cast<double>(crop.where.x) / planes.upright_width()));
          CHECK(out.region.h ==
                doctest::Approx(static_cast<double>(crop.where.height) / planes.upright_height()));
          TempFolder folder;
          const auto back = decode::decode_planes(folder.write("r.jpg", out.jpeg), 1, Limits{});
          REQUIRE(back);
          REQUIRE(back->luma.size() == cv::Size(out.width, out.height));
          cv::Mat expected, difference;
          cv::resize(crop.luma, expected, back->luma.size(), 0, 0, cv::INTER_AREA);
          cv::absdiff(expected, back->luma, difference);
          // Cut from the 1/8 picture, whose last cells are half outside a frame of 900 px: turned, it lies
          // half a cell off.
          CHECK(cv::mean(difference)[0] < (side <= 112 ? 6 : 4));
        }
    CHECK(decode::rendered(flat, decode::eighth_colour(flat), {2, 2, 1, 1}, 100, 85).jpeg.empty());
    CHECK(decode::rendered(flat, decode::eighth_colour(flat), {0, 0, 1, 1}, 0, 85).jpeg.empty());
  }

  TEST_CASE("nothing in, nothing out") {
    const decode::Planes none;
    CHECK(decode::picture_of_part(none, {}, {0, 0, 1, 1}, 224).empty());
    CHECK(decode::eighth_colour(none).empty());
    CHECK(decode::crop_luma(none, {0, 0, 1, 1}).luma.empty());
    CHECK(decode::crop_colour(none, {0, 0, 1, 1}).bgr.empty());
    CHECK(decode::thumbnail(none, {}).empty());
    CHECK(decode::rendered(none, {}, {0, 0, 1, 1}, 100, 85).jpeg.empty());
  }
}
