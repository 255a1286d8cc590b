// Conformance: every instrument in the table, on the inputs that break maths.
#include <doctest/doctest.h>

#include <cmath>
#include <set>
#include <string>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/instrument.h"
#include "measure/targets.h"

using namespace burstsieve;

namespace {

void check_promises(const measure::Instrument& instrument, const std::vector<Measure>& out) {
  std::set<std::string> seen;
  for (const Measure& m : out) {
    CAPTURE(std::string(instrument.id));
    CAPTURE(m.id);
    CAPTURE(m.value);
    CHECK(seen.insert(m.id).second);
    const auto spec = std::find_if(instrument.produces.begin(), instrument.produces.end(),
                                   [&](const auto& s) { return s.id == m.id; });
    REQUIRE(spec != instrument.produces.end());
    CHECK(std::isfinite(m.value));
    CHECK(m.value >= spec->low);
    CHECK(m.value <= spec->high);
    CHECK(m.unit == spec->unit);
    CHECK(m.confidence >= 0);
    CHECK(m.confidence <= 1);
    CHECK_FALSE(m.basis.empty());
  }
}

void run_pixels(const cv::Mat& luma, bool colour, Region box, int orientation, double reduction) {
  decode::Planes planes;
  planes.luma = luma;
  if (colour) {
    planes.cb = cv::Mat((luma.rows + 1) / 2, (luma.cols + 1) / 2, CV_8U, cv::Scalar(128));
    planes.cr = planes.cb.clone();
  }
  planes.orientation = orientation;
  planes.full_per_pixel = reduction;
  planes.source = "jpeg";
  const cv::Mat activity = image::activity_map(luma);
  const Capture capture;
  measure::PixelInput input{&planes, &activity, &capture, {box, std::nullopt, .7, "test"}, {}, {}};
  input.detail = measure::gather_detail(luma, activity, orientation, box);
  for (const measure::Instrument* instrument : measure::instruments()) {
    std::vector<Measure> out;
    if (instrument->from_pixels) instrument->from_pixels(input, out);
    check_promises(*instrument, out);
  }
}

}  // namespace

TEST_SUITE("measure/every_instrument") {
  TEST_CASE("the table is not empty, its names are unique and every measure says what it means") {
    std::set<std::string_view> ids, measures;
    for (const measure::Instrument* i : measure::instruments()) {
      CHECK(ids.insert(i->id).second);
      CHECK((i->from_pixels || i->from_mosaic));
      for (const auto& s : i->produces) {
        CHECK(measures.insert(s.id).second);
        CHECK_FALSE(s.meaning.empty());
        CHECK(s.low < s.high);
      }
    }
    CHECK(ids.size() >= 4);
  }

  TEST_CASE("stays finite and in range on black, white, flat, tiny, one row, noise, checkerboard") {
    cv::Mat noise(300, 400, CV_8U), board(300, 400, CV_8U);
    cv::theRNG().state = 7;
    cv::randu(noise, 0, 256);
    for (int y = 0; y < board.rows; ++y)
      for (int x = 0; x < board.cols; ++x) board.at<std::uint8_t>(y, x) = (x + y) % 2 ? 255 : 0;
    const std::vector<cv::Mat> frames{cv::Mat(300, 400, CV_8U, cv::Scalar(0)),
                                      cv::Mat(300, 400, CV_8U, cv::Scalar(255)),
                                      cv::Mat(300, 400, CV_8U, cv::Scalar(128)),
                                      cv::Mat(1, 1, CV_8U, cv::Scalar(9)),
                                      cv::Mat(1, 5000, CV_8U, cv::Scalar(9)),
                                      cv::Mat(17, 16, CV_8U, cv::Scalar(77)),
                                      noise,
                                      board};
    for (const cv::Mat& f : frames)
      for (const Region box : {Region{0, 0, 1, 1}, Region{.3, .3, .2, .2}, Region{.999, .999, .001, .001},
                               Region{}, Region{-1, -1, 9, 9}})
        for (const int orientation : {1, 6})
          run_pixels(f, orientation == 1, box, orientation, orientation == 6 ? 4 : 1);
  }

  TEST_CASE("mosaics without a pixel, of one, of less than a block; overviews likewise") {
    using decode::CfaColour;
    for (const int side : {2, 6})
      for (const cv::Size size :
           {cv::Size(0, 0), cv::Size(1, 1), cv::Size(3, 1), cv::Size(1, 40), cv::Size(7, 7)}) {
        decode::Mosaic m;
        m.cfa_side = side;
        m.cfa.fill(CfaColour::green);
        m.cfa[0] = m.cfa[3] = m.cfa[18] = m.cfa[21] = CfaColour::red;
        m.cfa[side == 2 ? 3 : 1] = m.cfa[4] = m.cfa[19] = m.cfa[22] = CfaColour::blue;
        if (size.area() > 0) m.values = cv::Mat(size, CV_16U, cv::Scalar(900));
        m.black = {64, 64, 64};
        m.white = {1023, 1023, 1023};
        m.sensor_width = size.width, m.sensor_height = size.height;
        const CellMask mask{3, 2, {1, 1, 1, 1, 0, 1}};
        for (const int orientation : {1, 6})
          for (const measure::Instrument* instrument : measure::instruments()) {
            m.orientation = orientation;
            std::vector<Measure> out;
            if (instrument->from_mosaic)
              instrument->from_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .7, "test"}, mask, &m}, out);
            check_promises(*instrument, out);
          }
      }
  }

  TEST_CASE("mosaics: black, saturated, above white, white below black, no sites of a colour") {
    using decode::CfaColour;
    for (const int value : {0, 64, 600, 1023, 65535}) {
      decode::Mosaic m;
      m.values = cv::Mat(101, 99, CV_16U, cv::Scalar(value));
      m.cfa = {CfaColour::red, CfaColour::green, CfaColour::green, CfaColour::blue};
      m.black = {64, 64, 64};
      m.white = {1023, 1023, 1023};
      for (int variant = 0; variant < 3; ++variant) {
        if (variant == 1) m.white = m.black;  // nonsense levels
        if (variant == 2) m.cfa.fill(CfaColour::green);
        for (const measure::Instrument* instrument : measure::instruments()) {
          std::vector<Measure> out;
          if (instrument->from_mosaic)
            instrument->from_mosaic({&m, {{0, 0, 1, 1}, std::nullopt, .7, "test"}, {}}, out);
          check_promises(*instrument, out);
        }
      }
    }
  }
}
