#include "burstsieve/subject/finder.h"

#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>
#include <string>

#include "burstsieve/image/activity.h"
#include "burstsieve/subject/energy_map.h"

using namespace burstsieve;

namespace {

// A sharp, textured ellipse on a smooth backdrop with noise; the truth is the ellipse's box.
struct Scene {
  cv::Mat luma, eighth;
  Region truth;
};

Scene scene(cv::Point2d centre, cv::Size2d half_axes, unsigned seed = 1, double background_detail = 0) {
  const cv::Size size(1200, 800);
  cv::RNG rng(seed);
  cv::Mat backdrop(size, CV_32F), texture(size, CV_32F), grain(size, CV_32F);
  rng.fill(backdrop, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(backdrop, backdrop, {}, 25);
  cv::normalize(backdrop, backdrop, 60, 120, cv::NORM_MINMAX);
  rng.fill(texture, cv::RNG::UNIFORM, 120, 230);
  cv::GaussianBlur(texture, texture, {}, .8);
  rng.fill(grain, cv::RNG::NORMAL, 0, 2 + background_detail);
  cv::Mat mask = cv::Mat::zeros(size, CV_8U);
  const cv::Point c(static_cast<int>(centre.x * size.width), static_cast<int>(centre.y * size.height));
  const cv::Size axes(static_cast<int>(half_axes.width * size.width),
                      static_cast<int>(half_axes.height * size.height));
  cv::ellipse(mask, c, axes, 0, 0, 360, 255, cv::FILLED);
  texture.copyTo(backdrop, mask);
  backdrop += grain;
  Scene out;
  backdrop.convertTo(out.luma, CV_8U);
  cv::resize(out.luma, out.eighth, {}, .125, .125, cv::INTER_AREA);
  cv::cvtColor(out.eighth, out.eighth, cv::COLOR_GRAY2BGR);
  out.truth = clamped(
      {centre.x - half_axes.width, centre.y - half_axes.height, 2 * half_axes.width, 2 * half_axes.height});
  return out;
}

std::vector<Subject> found(const Scene& s, const Capture& capture, const Scene* before = nullptr) {
  const cv::Mat energy = subject::energy_map(image::activity_map(s.luma));
  const auto now = subject::glance_at(s.eighth);
  const auto previous = before ? subject::glance_at(before->eighth) : subject::Glance{};
  return subject::find_subjects({&s.eighth, &energy, &capture, &now, before ? &previous : nullptr});
}

}  // namespace

TEST_SUITE("subject/finder") {
  TEST_CASE("the detail of a sharp subject is found wherever it is, at several sizes") {
    for (const auto centre : {cv::Point2d(.5, .5), cv::Point2d(.3, .4), cv::Point2d(.65, .6)})
      for (const double half : {.05, .1, .2}) {
        CAPTURE(centre.x);
        CAPTURE(half);
        const Scene s = scene(centre, {half, half});
        const auto subjects = found(s, {});
        REQUIRE_FALSE(subjects.empty());
        // The map's cells and its smoothing widen a box by 2 % of the frame on each side: a tenth of a frame
        // suffers.
        CHECK(overlap(subjects.front().box, s.truth) >= (half < .1 ? .33 : .5));
        CHECK(subjects.front().source.find("focus energy") != std::string::npos);
      }
  }

  TEST_CASE("the camera's focus area leads to the subject it lies on, and says so") {
    const Scene s = scene({.7, .35}, {.12, .16});
    Capture capture;
    capture.af = AfArea{{.74, .33, .03, .04}, .9, "test"};
    const auto subjects = found(s, capture);
    REQUIRE_FALSE(subjects.empty());
    CHECK(overlap(subjects.front().box, s.truth) >= .5);
    CHECK(subjects.front().source.find("AF area") != std::string::npos);
    CHECK(subjects.front().confidence > found(s, {}).front().confidence);
  }

  TEST_CASE("a focus area on plain backdrop is kept as a place to look, with less confidence") {
    const Scene s = scene({.7, .35}, {.12, .16});
    Capture capture;
    capture.af = AfArea{{.1, .8, .03, .04}, .9, "test"};
    bool there = false;
    for (const Subject& subject : found(s, capture))
      there = there || (subject.box.x < .3 && subject.confidence < .6);
    CHECK(there);
  }

  TEST_CASE("what moves against a panned background is found by motion") {
    const Scene before = scene({.40, .5}, {.1, .12}, 3), now = scene({.47, .5}, {.1, .12}, 3);
    std::string sources;
    for (const Subject& subject : found(now, {}, &before)) sources += subject.source;
    CHECK(sources.find("burst motion") != std::string::npos);
  }

  TEST_CASE("nothing to find: black, flat, one pixel") {
    for (const cv::Mat& luma :
         {cv::Mat(400, 600, CV_8U, cv::Scalar(0)), cv::Mat(400, 600, CV_8U, cv::Scalar(128)),
          cv::Mat(1, 1, CV_8U, cv::Scalar(5))}) {
      Scene s;
      s.luma = luma;
      cv::cvtColor(luma, s.eighth, cv::COLOR_GRAY2BGR);
      CHECK(found(s, {}).empty());
    }
  }

  TEST_CASE(
      "candidates that agree join as witnesses; those that don't stay apart, best first, at most four") {
    using subject::fuse;
    const auto joined = fuse(
        {{{.2, .2, .2, .2}, {}, .5, "a"}, {{.21, .2, .2, .2}, {}, .4, "b"}, {{.7, .7, .1, .1}, {}, .6, "c"}});
    REQUIRE(joined.size() == 2);
    CHECK(joined[0].source == "a + b");
    CHECK(joined[0].confidence == doctest::Approx(1 - .5 * (1 - .7 * .4)));
    std::vector<Subject> many;
    CHECK(joined[0].why == "a, b; the surest of 2 (.64)");
    CHECK(joined[1].why == "c; less sure than the first (.60 to .64)");
    for (int i = 0; i < 9; ++i) many.push_back({{.1 * i, 0, .05, .05}, {}, .1 * i, "x"});
    CHECK(fuse(many).size() == 4);
  }

  TEST_CASE(
      "the detector's box stays where others agree with it or see a part of it, and vouches for nobody "
      "else") {
    const Scene s = scene({.7, .35}, {.12, .16});
    const std::vector<subject::Detection> birds{{{.57, .18, .26, .34}, .6, 14}, {{.1, .6, .1, .1}, .3, 14}};
    const cv::Mat energy = subject::energy_map(image::activity_map(s.luma));
    Capture capture;
    capture.af = AfArea{{.74, .33, .03, .04}, .9, "test"};
    const auto now = subject::glance_at(s.eighth);
    const auto subjects = subject::find_subjects({&s.eighth, &energy, &capture, &now, nullptr, &birds});
    REQUIRE(subjects.size() >= 2);
    CHECK((subjects[0].box == birds[0].box));
    CHECK(subjects[0].source == "detector + AF area + focus energy");
    CHECK(subjects[0].confidence > .9);
    CHECK(subjects[1].source == "detector");
    CHECK(
        subjects[0].why.starts_with("bird seen by the detector (.60), the camera's focus area lies in it, "
                                    "fine detail stands out in it; the surest of "));
    CHECK(subjects[1].why.starts_with("bird seen by the detector (.30); less sure than the first (.67 to "));
    // A wing's detail inside the bird's outline.
    const auto joined =
        subject::fuse({{{.3, .3, .1, .1}, {}, .8, "AF area"}, {{.2, .2, .4, .4}, {}, .7, "detector"}});
    REQUIRE(joined.size() == 1);
    CHECK(joined[0].box.w == .4);
    // Most of the frame says nothing about what lies in it; two boxes of the detector stay two.
    CHECK(
        subject::fuse({{{.3, .3, .1, .1}, {}, .8, "AF area"}, {{0, 0, .9, .9}, {}, .7, "detector"}}).size() ==
        2);
    CHECK(subject::fuse({{{.2, .2, .4, .4}, {}, .8, "detector"}, {{.3, .2, .4, .4}, {}, .7, "detector"}})
              .size() == 2);
  }

  TEST_CASE("the mask covers the subject, its holes filled") {
    Scene s = scene({.5, .5}, {.15, .2});
    cv::ellipse(s.luma, {600, 400}, {60, 50}, 0, 0, 360, 255, cv::FILLED);  // clipped: no detail of its own
    const CellMask mask =
        subject::subject_mask(subject::energy_map(image::activity_map(s.luma)), grown(s.truth, 1.1));
    REQUIRE_FALSE(mask.empty());
    CHECK(mask.holds(.5, .5));
    CHECK(mask.holds(.4, .5));
    CHECK_FALSE(mask.holds(.1, .1));
    CHECK_FALSE(mask.holds(-1, .5));
  }

  TEST_CASE("the mask of a subject near the frame's edge does not touch it; of one that it cuts, it does") {
    const auto touches = [](const CellMask& m) {
      bool any = false;
      for (int y = 0; y < m.rows; ++y) any = any || m.at(0, y);
      return any;
    };
    for (const double left : {.028, -.05}) {
      const Scene s = scene({left + .15, .5}, {.15, .2});
      const cv::Mat map = subject::energy_map(image::activity_map(s.luma));
      const Region box{std::max(0.0, left), .3, .3 + std::min(0.0, left), .4};
      CAPTURE(left);
      CHECK(touches(subject::subject_mask(map, box)) == (left < 0));
    }
  }

  TEST_CASE("sharpness is asked where the camera focused when that is part of the subject") {
    const Subject subject{{.2, .2, .5, .5}, std::nullopt, .8, "x"};
    Capture capture;
    CHECK(subject::region_that_must_be_sharp(subject, capture) == subject.box);
    capture.af = AfArea{{.5, .3, .05, .05}, .9, "t"};
    CHECK(subject::region_that_must_be_sharp(subject, capture).w == doctest::Approx(.08));
    capture.af->box = {.1, .1, .8, .8};
    CHECK(subject::region_that_must_be_sharp(subject, capture) == subject.box);
    capture.af->box = {.9, .9, .05, .05};
    CHECK(subject::region_that_must_be_sharp(subject, capture) == subject.box);
    Subject with_head = subject;
    with_head.head = Region{.6, .25, .1, .1};
    CHECK(subject::region_that_must_be_sharp(with_head, capture) == grown(*with_head.head, 1.6));
  }
}
