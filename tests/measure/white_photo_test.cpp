// Whites of a real bird: the photograph of an almost white peahen (package tuxpaint-stamps-default), exposed
// up by known stops in linear light, written as a JPEG and read back. The truth is counted on the light
// before it is clipped and rounded. Needs tools/test-data.sh; says nothing without.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"
#include "decode/jpeg_maker.h"

using namespace burstsieve;

namespace {

struct Scene {
  cv::Mat3f light;  // BGR, scene-linear, 1 = clip at 0 EV
  cv::Mat1b bird;   // 255 inside the cut-out
  Region box;
};

Scene peahen() {
  const cv::Mat rgba = cv::imread(test::data_cache() +
                                      "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds/"
                                      "albino_peahen.png",
                                  cv::IMREAD_UNCHANGED);
  if (rgba.empty() || rgba.type() != CV_8UC4) return {};
  Scene out;
  const cv::Size size(rgba.cols + 160, rgba.rows + 128);
  out.light = cv::Mat3f(size, cv::Vec3f(.10f, .14f, .12f));  // a mid-tone meadow, out of focus
  out.bird = cv::Mat1b(size, static_cast<std::uint8_t>(0));
  for (int y = 0; y < rgba.rows; ++y)
    for (int x = 0; x < rgba.cols; ++x) {
      const auto& p = rgba.at<cv::Vec4b>(y, x);
      const float a = static_cast<float>(p[3]) / 255;
      auto& to = out.light(y + 64, x + 80);
      for (int c = 0; c < 3; ++c)
        to[c] = (1 - a) * to[c] + a * static_cast<float>(image::linear_of_srgb(p[c] / 255.0));
      if (p[3] == 255) out.bird(y + 64, x + 80) = 255;
    }
  // The photograph is warm: balanced on the mean of the bird, as a camera set to it would.
  const cv::Scalar tint = cv::mean(out.light, out.bird);
  cv::multiply(out.light, cv::Scalar(tint[1] / tint[0], 1, tint[1] / tint[2]), out.light);
  // Two stops down: nothing but what the photograph itself had lost is at its clip then.
  out.light *= .25;
  const double w = size.width, h = size.height;
  out.box = {80 / w, 64 / h, rgba.cols / w, rgba.rows / h};
  return out;
}

// An S-curve such as cameras lay over the sRGB curve; 0: none.
double toned(double encoded, double strength) {
  const double s = encoded * encoded * (3 - 2 * encoded);
  return (1 - strength) * encoded + strength * s;
}

struct Truth {
  std::array<double, 3> clipped{};  // R G B, of the white plumage
  double headroom = 0;              // EV; negative: above the clip
  int white = 0;
};

// White plumage by its definition in measure/plumage.h (neutral within a third of a stop, brighter than a
// quarter of the clip), on light that no clip has cut.
Truth truth_of(const Scene& s, double ev) {
  Truth out;
  const auto gain = static_cast<float>(std::exp2(ev));
  std::vector<float> tops;
  for (int y = 0; y < s.light.rows; ++y)
    for (int x = 0; x < s.light.cols; ++x) {
      if (s.bird(y, x) == 0) continue;
      const cv::Vec3f v = s.light(y, x) * gain;
      const float low = std::min({v[0], v[1], v[2]}), high = std::max({v[0], v[1], v[2]});
      if (low < .25f || high > 1.26f * low) continue;
      ++out.white;
      tops.push_back(high);
      for (std::size_t c = 0; c < 3; ++c) out.clipped[c] += v[2 - static_cast<int>(c)] >= .985f;
    }
  for (double& c : out.clipped) c /= std::max(1, out.white);
  if (tops.empty()) return out;
  std::sort(tops.begin(), tops.end());
  out.headroom = -std::log2(tops[static_cast<std::size_t>(.995 * static_cast<double>(tops.size() - 1))]);
  return out;
}

std::vector<Measure> measured(const Scene& s, double ev, double tone, const decode_test::TempFolder& folder) {
  cv::Mat3b codes(s.light.size());
  for (int y = 0; y < codes.rows; ++y)
    for (int x = 0; x < codes.cols; ++x)
      for (int c = 0; c < 3; ++c) {
        const double light = std::min(1.0, static_cast<double>(s.light(y, x)[c]) * std::exp2(ev));
        codes(y, x)[c] = cv::saturate_cast<std::uint8_t>(255 * toned(image::srgb_of_linear(light), tone));
      }
  std::vector<std::uint8_t> bytes;
  cv::imencode(".jpg", codes, bytes, {cv::IMWRITE_JPEG_QUALITY, 92});
  const auto file = folder.write("white.jpg", bytes, FileKind::jpeg);
  const auto planes = decode::decode_planes(file, 1, Limits{});
  REQUIRE(planes);
  const cv::Mat activity = image::activity_map(planes->luma);
  const Capture capture;
  // The outline, in cells of 1 % as the finder's.
  CellMask mask{96, 96, std::vector<std::uint8_t>(96 * 96)};
  cv::Mat small;
  cv::resize(s.bird, small, {96, 96}, 0, 0, cv::INTER_AREA);
  for (std::size_t i = 0; i < mask.cells.size(); ++i)
    mask.cells[i] = small.at<std::uint8_t>(static_cast<int>(i) / 96, static_cast<int>(i) % 96) > 127;
  return measure::measure_pixels(
      {&*planes, &activity, &capture, {s.box, std::nullopt, .8, "given"}, mask, {}});
}

}  // namespace

TEST_SUITE("measure/white_photo") {
  TEST_CASE("a white bird exposed up by known stops: clipped share and headroom from the JPEG") {
    const Scene s = peahen();
    if (s.light.empty()) {
      MESSAGE("no photographs: tools/test-data.sh photos");
      return;
    }
    decode_test::TempFolder folder;
    for (const double tone : {0.0, .6}) {
      double last = -1;
      for (const double ev : {.5, 1.0, 1.5, 2.0, 2.5, 3.0}) {
        CAPTURE(tone);
        CAPTURE(ev);
        const Truth t = truth_of(s, ev);
        const auto out = measured(s, ev, tone, folder);
        const Measure* green = find(out, "white_clipped_g");
        const Measure* headroom = find(out, "headroom_ev");
        REQUIRE(green);
        REQUIRE(headroom);
        MESSAGE("tone " << tone << ", " << ev << " EV: green clipped " << t.clipped[1] << ", said "
                        << green->value << "; headroom " << t.headroom << ", said " << headroom->value);
        // Plumage that only looks neutral once a channel is clipped joins the mask: shares read up to .1 low.
        CHECK(std::abs(green->value - t.clipped[1]) < .10);
        CHECK(green->value >= last);
        last = green->value;
        // The camera's own curve is not undone: it costs headroom up to .3 EV here, never grants any.
        const double true_headroom = std::max(0.0, t.headroom);
        CHECK(headroom->value < true_headroom + .05);
        CHECK(headroom->value > true_headroom - (tone > 0 ? .3 : .05));
        if (green->value > .02) CHECK(green->confidence <= .5);
        CHECK(headroom->confidence <= .5);
        CHECK(green->basis == "jpeg");
      }
    }
  }
}
