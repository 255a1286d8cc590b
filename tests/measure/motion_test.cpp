// Streaks of known length and direction, and what moved, on natural textures.
#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <map>

#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/streak.h"
#include "burstsieve/rank/motion_kind.h"
#include "measure/textures.h"

using namespace burstsieve;
using rank::MotionKind;
using textures::Texture;

namespace {

bool thorough() {
  return std::getenv("BURSTSIEVE_HEAVY") != nullptr;
}

// Shot and read noise that together have this standard deviation at .3 of the clip.
cv::Mat shot(const cv::Mat& linear, double noise, unsigned seed) {
  return targets::developed(linear, .9 * noise * noise / .3, .1 * noise * noise, seed);
}

double off_degrees(double a, double b) {
  return std::abs(std::remainder(a - b, 180));
}

measure::Streak streak_in(const cv::Mat& luma) {
  const cv::Mat activity = image::activity_map(luma);
  return measure::find_streak(
      measure::spectrum_of(luma, activity, measure::subject_cells(activity, 1, {.08, .08, .84, .84}, {}), 3),
      1);
}

struct Tally {
  int right = 0, of = 0, wrong_sure = 0;
};

// Right: the length within 1.5 px or 10 %, the direction within 4 degrees.
std::map<std::string, Tally> ladder(const std::vector<Texture>& all, int ways) {
  std::map<std::string, Tally> out;
  unsigned seed = 1;
  for (const Texture& t : all)
    for (int way = 0; way < ways; ++way)
      for (const double length : {3.0, 4.0, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0})
        for (const double noise : {.003, .02}) {
          const double degrees = std::fmod(++seed * 37.3, 180.0) - 90;
          const auto s = streak_in(
              shot(textures::moved(textures::turned(t.linear, static_cast<unsigned>(way)), length, degrees),
                   noise, seed));
          const bool right = std::abs(s.length - length) <= std::max(1.5, .1 * length) &&
                             off_degrees(s.degrees, degrees) <= 4;
          const bool sure = s.length > 0 && s.confidence >= .6;
          for (const std::string& key : {t.kind, t.kind + (noise > .01 ? " 2 % noise" : " clean"),
                                         t.kind + (length < 6    ? " 3-5 px"
                                                   : length < 15 ? " 7-14 px"
                                                                 : " 20-40 px")}) {
            Tally& tally = out[key];
            tally.right += right;
            tally.of += 1;
            tally.wrong_sure += sure && !right && std::abs(s.length - length) > std::max(2.5, .2 * length);
          }
        }
  return out;
}

// One frame whose kind of blur is known: a subject of one texture before a background of another.
struct Scene {
  MotionKind kind = MotionKind::sharp;
  cv::Mat luma;
  Region box;
};

constexpr int kWidth = 1024, kHeight = 576, kSubject = 288, kSky = 64;

cv::Mat disc_mask(double cx, double cy) {
  cv::Mat mask(kHeight, kWidth, CV_32F, cv::Scalar(0));
  cv::ellipse(mask, cv::Point2d(cx, cy), cv::Size(kSubject / 2 - 8, kSubject / 2 - 8), 0, 0, 360,
              cv::Scalar(1), cv::FILLED, cv::LINE_AA);
  return mask;
}

Scene scene_of(const std::vector<Texture>& all, MotionKind kind, std::mt19937& rng) {
  const auto uniform = [&](double a, double b) {
    return a + (b - a) * (static_cast<double>(rng()) / 4294967296.0);
  };
  const auto any = [&] {
    return textures::turned(all[rng() % all.size()].linear, static_cast<unsigned>(rng() % 8));
  };
  const auto tiled = [&](const cv::Mat& t) {
    cv::Mat out;
    cv::copyMakeBorder(t, out, 0, std::max(0, kHeight - t.rows), 0, std::max(0, kWidth - t.cols),
                       cv::BORDER_REFLECT_101);
    return out(cv::Rect(0, 0, kWidth, kHeight)).clone();
  };
  cv::Mat back = tiled(any());
  cv::Mat front = tiled(any());
  const double cx = uniform(.45, .55) * kWidth, cy = uniform(.45, .55) * kHeight;
  cv::Mat mask = disc_mask(cx, cy);
  // 5 px: the shortest that a reason is made of is 6 px.
  const double length = std::exp(uniform(std::log(5.0), std::log(40.0))), degrees = uniform(-90, 90);
  const double other = std::exp(uniform(std::log(5.0), std::log(40.0)));
  // Not alike: at least 40 degrees apart.
  const double across = degrees + uniform(40, 140);
  cv::Mat layer = front.mul(mask);
  switch (kind) {
    case MotionKind::subject:
    case MotionKind::both:
      layer = textures::moved(layer, length, degrees);
      mask = textures::moved(mask, length, degrees);
      if (kind == MotionKind::both) back = textures::moved(back, other, across);
      break;
    case MotionKind::pan:
      back = textures::moved(back, length, degrees);
      break;
    case MotionKind::soft: {
      const double diameter = uniform(9, 16);
      layer = textures::defocused(layer, diameter);
      mask = textures::defocused(mask, diameter);
      break;
    }
    default:
      break;
  }
  cv::Mat picture = layer + back.mul(1 - mask);
  if (kind == MotionKind::camera) picture = textures::moved(picture, length, degrees);
  const double noise = uniform(.002, .02);
  // A strip of smooth sky: every outdoor frame has a quiet place where its noise can be seen.
  cv::Mat sky(kSky, kWidth, CV_32F);
  for (int x = 0; x < kWidth; ++x) sky.col(x) = image::linear_of_srgb(.06 + .88 * x / kWidth);
  cv::vconcat(picture, sky, picture);
  Scene out;
  out.kind = kind;
  out.luma = shot(picture, noise, static_cast<unsigned>(rng()));
  out.box = {(cx - kSubject / 2.0) / kWidth, (cy - kSubject / 2.0) / picture.rows, double{kSubject} / kWidth,
             double{kSubject} / picture.rows};
  return out;
}

FrameFacts measured(const cv::Mat& luma, const Region& box) {
  decode::Planes planes;
  planes.luma = luma;
  planes.source = "jpeg";
  const cv::Mat activity = image::activity_map(luma);
  const Capture capture;
  measure::PixelInput input{&planes, &activity, &capture, {box, std::nullopt, .9, "test"}, {}, {}};
  // As the engine does, where the camera focused: in the middle of the animal.
  const Region focus{box.x + .2 * box.w, box.y + .2 * box.h, .6 * box.w, .6 * box.h};
  input.detail = measure::gather_detail(luma, activity, 1, focus);
  FrameFacts facts;
  facts.decoded = true;
  facts.measures = measure::measure_pixels(input);
  return facts;
}

constexpr std::array kKinds{MotionKind::sharp, MotionKind::subject, MotionKind::camera,
                            MotionKind::both,  MotionKind::pan,     MotionKind::soft};

}  // namespace

TEST_SUITE("measure/motion") {
  // The planted streak is the golden value; it is applied as the sinc of its Fourier transform.
  TEST_CASE("length within 1.5 px or 10 %, direction within 4 degrees, 3 to 40 px, noise up to 2 %") {
    cv::setNumThreads(1);
    auto all = textures::synthetic(448, thorough() ? 4 : 1);
    if (thorough())
      for (auto& t : textures::photographs(448)) all.push_back(std::move(t));
    const auto results = ladder(all, thorough() ? 4 : 1);
    std::string table;
    for (const auto& [kind, tally] : results)
      table += "\n  " + kind + ": " + std::to_string(tally.right) + " of " + std::to_string(tally.of) +
               ", surely wrong " + std::to_string(tally.wrong_sure);
    MESSAGE(table);
    for (const auto& [kind, tally] : results) {
      CAPTURE(kind);
      if (kind == "leaves") CHECK(tally.right >= .92 * tally.of);
      if (kind == "1/f") CHECK(tally.right >= .86 * tally.of);
      if (kind == "feathers") CHECK(tally.right >= .48 * tally.of);
      CHECK(tally.wrong_sure <= .06 * tally.of);
    }
  }

  TEST_CASE("a sharp texture has no sure streak of 3 px or more") {
    auto all = textures::synthetic(448, 2);
    if (thorough())
      for (auto& t : textures::photographs(448)) all.push_back(std::move(t));
    int false_alarms = 0, count = 0;
    for (const Texture& t : all)
      for (const double noise : {.003, .02}) {
        const auto s = streak_in(shot(t.linear, noise, 5));
        ++count;
        false_alarms += s.length >= 3 && s.confidence >= .6;
      }
    MESSAGE(false_alarms << " false alarms on " << count << " sharp textures");
    CHECK(false_alarms <= count / 30);
  }

  TEST_CASE("the direction is that of the upright frame, whatever way the sensor lay") {
    const cv::Mat upright = shot(textures::moved(targets::leaves(320, .7, 3), 12, 25), .003, 3);
    const std::array<int, 3> stored_as{cv::ROTATE_180, cv::ROTATE_90_COUNTERCLOCKWISE,
                                       cv::ROTATE_90_CLOCKWISE};
    for (const int orientation : {1, 2, 3, 4, 5, 6, 7, 8}) {
      cv::Mat stored = upright.clone();
      // The inverse of what the orientation asks for (Exif 2.32, tag 0x0112).
      if (orientation == 2) cv::flip(upright, stored, 1);
      if (orientation == 4) cv::flip(upright, stored, 0);
      if (orientation == 5) stored = upright.t();
      if (orientation == 7) {
        cv::rotate(upright, stored, cv::ROTATE_180);
        stored = cv::Mat(stored.t());
      }
      if (orientation == 3) cv::rotate(upright, stored, stored_as[0]);
      if (orientation == 6) cv::rotate(upright, stored, stored_as[1]);
      if (orientation == 8) cv::rotate(upright, stored, stored_as[2]);
      const cv::Mat activity = image::activity_map(stored);
      const auto s = measure::find_streak(
          measure::spectrum_of(stored, activity,
                               measure::subject_cells(activity, orientation, {.1, .1, .8, .8}, {}), 2),
          orientation);
      CAPTURE(orientation);
      CHECK(std::abs(s.length - 12) < 1.5);
      CHECK(off_degrees(s.degrees, 25) < 4);
    }
  }

  TEST_CASE("nothing to see: no length, no confidence") {
    for (const cv::Mat& luma :
         {cv::Mat(400, 400, CV_8U, cv::Scalar(128)), cv::Mat(20, 900, CV_8U, cv::Scalar(9)),
          shot(cv::Mat(400, 400, CV_32F, cv::Scalar(.3)), .02, 4)}) {
      const auto s = streak_in(luma);
      CAPTURE(luma.rows);
      CAPTURE(s.reach);
      CHECK(s.length == 0);
      CHECK(s.confidence < .15);
    }
  }

  TEST_CASE("what moved is told: sharp, subject, camera, both, panning shot, soft") {
    cv::setNumThreads(1);
    auto all = textures::synthetic(576, thorough() ? 4 : 1);
    // Only as much of a photograph as is in focus.
    if (thorough())
      for (auto& t : textures::photographs(320)) all.push_back(std::move(t));
    const int count = thorough() ? 1000 : 96;
    std::mt19937 rng(2024);
    std::map<MotionKind, std::map<MotionKind, int>> confusion;
    int right = 0, rejected_pans = 0, rejected_sharp = 0;
    for (int i = 0; i < count; ++i) {
      const MotionKind kind = kKinds[static_cast<std::size_t>(i) % kKinds.size()];
      const Scene scene = scene_of(all, kind, rng);
      const FrameFacts facts = measured(scene.luma, scene.box);
      const auto found = rank::motion_kind(facts);
      ++confusion[kind][found.kind];
      right += found.kind == kind;
      const Measure* m = find(facts.measures, "motion_px");
      const bool blamed = m && m->value > 6 && m->confidence >= .6;
      rejected_pans += kind == MotionKind::pan && blamed;
      rejected_sharp += kind == MotionKind::sharp && blamed;
    }
    std::string table;
    for (const auto& [truth, row] : confusion) {
      table += "\n  " + std::string(rank::name_of(truth)) + ":";
      for (const auto& [seen, n] : row)
        table += "  " + std::string(rank::name_of(seen)) + " " + std::to_string(n);
    }
    MESSAGE(right << " of " << count << " right; true kind: seen as" << table);
    MESSAGE("sharp subjects blamed for a streak: " << rejected_sharp
                                                   << ", on panning shots: " << rejected_pans);
    CHECK(right >= .9 * count);
    CHECK(rejected_pans + rejected_sharp <= count / 200);
  }
}
