// Rendered frames against their own truth, counted again from the pixels.
#include "frame.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>

using namespace burstsieve;
using namespace burstsieve::generate;

namespace {

BurstSpec small_burst(Species species, Pose pose, Format format) {
  PlanOptions options;
  options.set = "faults";
  options.width = 420;
  options.height = 280;
  BurstSpec b = plan(options).front();
  b.format = format;
  b.frames.resize(1);
  FrameSpec& f = b.frames[0];
  f.bird.species = species;
  f.bird.pose = pose;
  f.scale = 150;
  f.at = {.5, .5};
  return b;
}

// Share of green sites at or over the white level among the masked ones.
double green_clipped(const cv::Mat1w& mosaic, const cv::Mat1b& mask, int white) {
  double all = 0, clipped = 0;
  for (int y = 0; y < mosaic.rows; ++y) {
    for (int x = (y + 1) % 2; x < mosaic.cols; x += 2) {
      if (mask(y, x) == 0) continue;
      all += 1;
      clipped += mosaic(y, x) >= white ? 1 : 0;
    }
  }
  return all > 0 ? clipped / all : 0;
}

}  // namespace

TEST_CASE("clipped whites match a recount, with and without noise") {
  BurstSpec b = small_burst(Species::egret, Pose::perched, Format::dng);
  FrameSpec& f = b.frames[0];
  f.iso = 100;
  double last = -1, last_headroom = 10;
  for (double ev : {-.5, .3, .7, 1.2, 2.2}) {
    CAPTURE(ev);
    f.exposure_ev = ev;
    const RenderedFrame frame = render_frame(b, f);
    const SensorLevels levels = levels_for(b.bits);
    cv::Mat3f sensor = frame.light.clone();
    to_sensor_rgb(sensor);
    const cv::Mat1w clean = mosaic_of(sensor, levels);
    const double g = frame.truth.raw.clipped[1];
    CHECK(g == doctest::Approx(green_clipped(clean, frame.white_mask, levels.white)));
    cv::Mat noisy = sensor;
    add_sensor_noise(noisy, noise_at_iso(f.iso), 8);
    CHECK(std::abs(green_clipped(mosaic_of(sensor, levels), frame.white_mask, levels.white) - g) < .03);
    CHECK(g >= last);
    CHECK(frame.truth.raw.headroom_ev <= last_headroom);
    last = g;
    last_headroom = frame.truth.raw.headroom_ev;
    const bool named = std::find(frame.truth.faults.begin(), frame.truth.faults.end(), "whites_clipped") !=
                       frame.truth.faults.end();
    CHECK(named == (g > .001));
    CHECK(frame.truth.ruined == (g >= .05));
  }
  CHECK(last > .5);  // over two stops: all that the sun reaches
  CHECK(last_headroom == 0);
}

TEST_CASE("headroom falls by a stop for a stop of exposure") {
  BurstSpec b = small_burst(Species::egret, Pose::perched, Format::dng);
  FrameSpec& f = b.frames[0];
  f.exposure_ev = -2;
  const double two_under = render_frame(b, f).truth.raw.headroom_ev;
  f.exposure_ev = -1;
  CHECK(two_under - render_frame(b, f).truth.raw.headroom_ev == doctest::Approx(1).epsilon(.005));
}

TEST_CASE("the box holds the bird and the head lies in it") {
  for (Pose pose : {Pose::up, Pose::level, Pose::down, Pose::perched}) {
    const BurstSpec b = small_burst(Species::gull, pose, Format::jpeg);
    const RenderedFrame frame = render_frame(b, b.frames[0]);
    const Region s = frame.truth.subject, h = frame.truth.head;
    CAPTURE(frame.truth.pose);
    CHECK(s.w > .25);
    CHECK(s.w < .65);
    CHECK(h.centre_x() > s.x);
    CHECK(h.centre_x() < s.right());
    CHECK(h.centre_y() > s.y);
    CHECK(h.centre_y() < s.bottom());
    CHECK(h.centre_x() > s.centre_x());  // it faces right
    CHECK(frame.truth.head_visible);
    // White plumage lies inside the box, give or take the blur.
    const cv::Rect whites = cv::boundingRect(frame.white_mask);
    CHECK(whites.x >= s.x * b.size.width - 3);
    CHECK(whites.br().x <= s.right() * b.size.width + 3);
    CHECK(whites.br().y <= s.bottom() * b.size.height + 3);
  }
}

TEST_CASE("blur lowers the bird's detail and the truth says how much") {
  BurstSpec b = small_burst(Species::gull, Pose::down, Format::jpeg);
  b.supersample = 2;
  FrameSpec& f = b.frames[0];
  f.lens_sigma = .6;
  double last = 1e9;
  for (double sigma : {0.0, .8, 1.6, 3.0}) {
    f.defocus_sigma = sigma;
    const RenderedFrame frame = render_frame(b, f);
    CHECK(frame.truth.blur_sigma_px == doctest::Approx(std::sqrt(.36 + sigma * sigma + 1.0 / 12)));
    cv::Mat green, edges;
    cv::extractChannel(frame.light, green, 1);
    cv::Laplacian(green, edges, CV_32F);
    cv::Scalar mean, deviation;
    cv::meanStdDev(edges, mean, deviation, frame.white_mask);
    CHECK(deviation[0] < .8 * last);
    last = deviation[0];
  }
}

TEST_CASE("a bird half out of the frame is cut, and a wing can hide the head") {
  BurstSpec b = small_burst(Species::gull, Pose::down, Format::jpeg);
  FrameSpec& f = b.frames[0];
  CHECK(render_frame(b, f).truth.cut_by_edge == 0);
  FrameSpec out = f;
  out.at.x = 0;
  const FrameTruth t = render_frame(b, out).truth;
  CHECK(t.cut_by_edge > .05);
  CHECK(t.cut_by_edge < .6);
  CHECK(t.subject.x == 0);
  f.bird.wing_over_head = true;
  const FrameTruth hidden = render_frame(b, f).truth;
  CHECK(!hidden.head_visible);
  CHECK(hidden.ruined);
}

TEST_CASE("panning streaks the background and spares the bird") {
  BurstSpec b = small_burst(Species::gull, Pose::down, Format::jpeg);
  b.backdrop_sigma = .8;
  FrameSpec& f = b.frames[0];
  const auto detail = [&](const RenderedFrame& frame, bool on_bird) {
    cv::Mat green, dx;
    cv::extractChannel(frame.light, green, 1);
    cv::Sobel(green, dx, CV_32F, 1, 0);
    cv::Scalar mean, deviation;
    cv::Mat1b where = frame.white_mask.clone();
    if (on_bird) {
      cv::erode(where, where, cv::Mat::ones(3, 3, CV_8U));
    } else {
      where.setTo(0);
      where.rowRange(0, 40).setTo(255);
    }
    cv::meanStdDev(dx, mean, deviation, where);
    return deviation[0];
  };
  const RenderedFrame still = render_frame(b, f);
  f.motion_of = MotionOf::pan;
  f.motion_px = 20;
  const RenderedFrame pan = render_frame(b, f);
  CHECK(detail(pan, true) > .9 * detail(still, true));
  CHECK(detail(pan, false) < .5 * detail(still, false));
  CHECK(!pan.truth.ruined);
  f.motion_of = MotionOf::camera;
  const RenderedFrame shaken = render_frame(b, f);
  CHECK(detail(shaken, true) < .6 * detail(still, true));
  CHECK(shaken.truth.ruined);
}

TEST_CASE("an orientation turns the stored picture, not the truth") {
  BurstSpec b = small_burst(Species::gull, Pose::level, Format::jpeg);
  const RenderedFrame upright = render_frame(b, b.frames[0]);
  b.orientation = 6;
  const RenderedFrame turned = render_frame(b, b.frames[0]);
  CHECK(turned.truth.subject == upright.truth.subject);
  REQUIRE(turned.light.size() == cv::Size(upright.light.rows, upright.light.cols));
  cv::Mat back;
  cv::rotate(turned.light, back, cv::ROTATE_90_CLOCKWISE);  // what orientation 6 asks a viewer to do
  CHECK(cv::norm(back, upright.light, cv::NORM_INF) == 0);
}

TEST_CASE("one best frame for each pose, the least blurred sound one") {
  const auto frame = [](const char* pose, double sigma, double motion, bool ruined) {
    FrameTruth t;
    t.pose = pose;
    t.blur_sigma_px = sigma;
    t.motion_px = motion;
    t.motion_of = motion > 0 ? "subject" : "none";
    t.ruined = ruined;
    return t;
  };
  std::vector<FrameTruth> v{frame("up", .9, 0, false), frame("up", .7, 0, true),  frame("up", .7, 3, false),
                            frame("up", .8, 0, false), frame("down", 5, 0, true), frame("down", 4, 0, true)};
  choose_best(v);
  const std::vector<bool> expected{false, false, false, true, false, true};
  for (std::size_t i = 0; i < v.size(); ++i) CHECK(v[i].best_of_pose == expected[i]);
}
