// Composites of known truth: that the truth is true, and a guarded few of them with the detector.
#include "compose.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <opencv2/imgproc.hpp>
#include <string>

#include "base/test_data.h"
#include "check.h"
#include "overlay.h"

using namespace burstsieve;
using namespace burstsieve::subject_check;

namespace {

// A red ellipse with clear corners.
cv::Mat red_cutout() {
  cv::Mat out(200, 300, CV_8UC4, cv::Scalar(0, 0, 0, 0));
  cv::ellipse(out, {150, 100}, {149, 99}, 0, 0, 360, cv::Scalar(20, 20, 220, 255), cv::FILLED);
  return out;
}

cv::Rect red_part(const cv::Mat& picture) {
  cv::Mat channels[3], red;
  cv::split(picture, channels);
  cv::threshold(channels[2], red, 158, 255, cv::THRESH_BINARY);  // half of it and half of the ground
  return cv::boundingRect(red);
}

}  // namespace

TEST_SUITE("subject-check/compose") {
  TEST_CASE("the box of the truth is where the cut-out is, and as wide as was asked for") {
    const cv::Mat backdrop(1500, 2000, CV_8UC3, cv::Scalar(120, 120, 120));
    for (const double width : {.2, .1, .05})
      for (const std::uint64_t seed : {1u, 2u, 3u}) {
        CAPTURE(width);
        CAPTURE(seed);
        const Composite c = composite(red_cutout(), backdrop, width, seed);
        REQUIRE_FALSE(c.picture.empty());
        CHECK(c.truth.w == doctest::Approx(width).epsilon(.03));
        const cv::Rect seen = red_part(c.picture);
        const Region box{static_cast<double>(seen.x) / c.picture.cols,
                         static_cast<double>(seen.y) / c.picture.rows,
                         static_cast<double>(seen.width) / c.picture.cols,
                         static_cast<double>(seen.height) / c.picture.rows};
        CHECK(overlap(box, c.truth) > .9);
        CHECK(cv::norm(c.picture, composite(red_cutout(), backdrop, width, seed).picture, cv::NORM_INF) == 0);
        CHECK(cv::norm(c.picture.row(0), cv::Mat(1, c.picture.cols, CV_8UC3, cv::Scalar(120, 120, 120)),
                       cv::NORM_INF) <= 1);
      }
    CHECK(composite(cv::Mat(20, 20, CV_8UC3), backdrop, .1, 1).picture.empty());
    CHECK(composite(cv::Mat(20, 20, CV_8UC4, cv::Scalar::all(0)), backdrop, .1, 1).picture.empty());
  }

  TEST_CASE("birds a tenth of the frame wide that the camera focused on") {
    const std::string cache = test::data_cache();
    const std::string birds = cache + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds";
    const std::string nature = cache + "/mate-backgrounds/usr/share/backgrounds/mate/nature/";
    if (!std::filesystem::exists(birds) || !std::filesystem::exists(nature)) {
      MESSAGE("not fetched, nothing checked (run tools/test-data.sh)");
      return;
    }
    if (!std::filesystem::exists(subject::detector_file())) {
      MESSAGE("SKIP: no detector installed (tools/setup.sh --detector)");
      return;
    }
    const auto pool = subject::DetectorPool::load(subject::detector_file());
    REQUIRE(pool);
    ComposeOptions options;
    options.widths = {.10};
    options.count = 8;
    options.seed = 7000;  // held out
    options.focus = true;
    const auto found =
        check_composed(birds, {nature + "Garden.jpg", nature + "TwoWings.jpg"}, options, pool->get());
    REQUIRE(found);
    CHECK(found->errors.empty());
    REQUIRE(found->rows.size() == 2);
    CHECK(found->rows[0].pictures == 8);
    MESSAGE("seen: ", found->rows[0].detected, ", first: ", found->rows[0].first,
            " of 8; without an animal: ", found->rows[1].detected);
    CHECK(found->rows[0].first >= 5);
    CHECK(found->rows[1].detected <= 1);
  }

  TEST_CASE("an overlay draws every kind of box in its own way and leaves the rest of the picture") {
    Looked looked{1000, 500, {}, cv::Mat(350, 700, CV_8UC3, cv::Scalar::all(90))};
    looked.answers.push_back({subject::kDetectorSource, {{{.5, .2, .3, .5}, {}, .7, "detector"}}});
    looked.answers.push_back({kFused, {{{.5, .2, .3, .5}, {}, .8, "detector"}}});
    const cv::Mat drawn = overlay(looked, {{.1, .3, .2, .4}});
    REQUIRE(drawn.size() == looked.view.size());
    CHECK((drawn.at<cv::Vec3b>(340, 10) == cv::Vec3b(90, 90, 90)));
    CHECK((drawn.at<cv::Vec3b>(175, 70) != cv::Vec3b(90, 90, 90)));   // left edge of the animal
    CHECK((drawn.at<cv::Vec3b>(130, 351) != cv::Vec3b(90, 90, 90)));  // and of the first subject
    CHECK(overlay({}, {}).empty());
    for (const char* a : {"AF area", "focus energy", subject::kDetectorSource})
      for (const std::string& b : {std::string("focus energy"), kFirst})
        if (a != b) CHECK(style_of(a).line != style_of(b).line);
  }
}
