// Where the focus lies, on generated depth scenes: subject, reeds before and behind, backdrop, each with its
// own defocus. The truth is the plan's; the seeds here were not used to tune anything.
#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <opencv2/imgproc.hpp>
#include <string>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/measure/instrument.h"
#include "frame.h"
#include "measure/targets.h"

using namespace burstsieve;
using measure::FocusSide;

namespace {

// As the camera would develop it, noise and all, without the JPEG.
cv::Mat luma_of(const generate::FrameSpec& spec, generate::RenderedFrame& frame) {
  generate::to_sensor_rgb(frame.light);
  cv::Mat sensor = frame.light;
  generate::add_sensor_noise(sensor, generate::noise_at_iso(spec.iso), spec.seed);
  cv::Mat luma;
  cv::cvtColor(generate::developed(frame.light), luma, cv::COLOR_BGR2GRAY);
  return luma;
}

FocusSide planted(generate::FocusOn focus) {
  return focus == generate::FocusOn::subject      ? FocusSide::subject
         : focus == generate::FocusOn::foreground ? FocusSide::before
                                                  : FocusSide::behind;
}

struct Score {
  int right = 0, frames = 0, untold = 0;
  std::array<std::array<int, 5>, 5> confusion{};  // [truth][said]
};

Score score_of(std::uint64_t seed, int bursts) {
  generate::PlanOptions options;
  options.set = "depth";
  options.seed = seed;
  options.bursts = bursts;
  Score out;
  for (const auto& burst : generate::plan(options))
    for (const auto& spec : burst.frames) {
      auto frame = generate::render_frame(burst, spec);
      const cv::Mat luma = luma_of(spec, frame);
      const auto map = measure::focus_map(luma, image::activity_map(luma));
      const auto said = measure::focus_plane(map, frame.truth.subject).side;
      const auto truth = planted(spec.focus_on);
      ++out.frames;
      out.right += said == truth;
      out.untold += said == FocusSide::elsewhere || said == FocusSide::unknown;
      ++out.confusion[static_cast<std::size_t>(truth)][static_cast<std::size_t>(said)];
    }
  return out;
}

std::string table_of(const Score& s) {
  static constexpr std::array names{"unknown", "subject", "before", "behind", "elsewhere"};
  std::string out = std::to_string(s.right) + " of " + std::to_string(s.frames) + " right, " +
                    std::to_string(s.untold) + " not told";
  for (std::size_t t = 1; t <= 3; ++t) {
    out += std::string("\n  ") + names[t] + ":";
    for (std::size_t k = 0; k < 5; ++k)
      out += std::string(" ") + names[k] + " " + std::to_string(s.confusion[t][k]);
  }
  return out;
}

}  // namespace

TEST_SUITE("measure/focus_plane") {
  TEST_CASE("focus on, before or behind the subject: 95 % right on depth scenes that were held out") {
#ifdef __SANITIZE_ADDRESS__
    const Score s = score_of(4242, 2);
    MESSAGE(table_of(s));
    CHECK(s.right >= s.frames - 2);
#else
    // BURSTSIEVE_SWEEP: the 600 frames behind the figures in docs/measures.md.
    const bool sweep = std::getenv("BURSTSIEVE_SWEEP") != nullptr;
    const Score s = score_of(4242, sweep ? 100 : 25);
    MESSAGE(table_of(s));
    CHECK(s.right >= .95 * s.frames);
#endif
  }

  // Known answer: the map's inversion of erf ratios against edges drawn by erf (targets.h; pixel box
  // included).
  TEST_CASE("the map reads the width of clean edges within 30 %, and their order always") {
    for (const double degrees : {0.0, 12.0, 80.0}) {
      double last = 0;
      for (const double sigma : {.7, 1.0, 1.5, 2.2, 3.0, 4.0, 6.0}) {
        const cv::Mat luma = targets::developed(targets::edge(512, sigma, degrees, .2, .5), 1e-5, 1e-7, 3);
        const auto map = measure::focus_map(luma, image::activity_map(luma));
        // Of the cells that see the whole edge the one that holds it.
        double top = 0, measured = 99;
        cv::minMaxLoc(map.weight, nullptr, &top);
        for (int y = 1; y + 1 < map.sigma.rows; ++y)
          for (int x = 1; x + 1 < map.sigma.cols; ++x)
            if (map.sigma(y, x) >= 0 && map.weight(y, x) > .9 * top)
              measured = std::min<double>(measured, map.sigma(y, x));
        CAPTURE(degrees);
        CAPTURE(sigma);
        CHECK(measured == doctest::Approx(sigma).epsilon(.30));
        CHECK(measured > last);
        last = measured;
      }
    }
  }

  TEST_CASE("a turned picture has the turned map") {
    const cv::Mat luma = targets::developed(targets::leaves(384, 1.0, 5), 1e-5, 1e-7, 3);
    const auto map = measure::focus_map(luma, image::activity_map(luma));
    for (int o = 1; o <= 8; ++o) {
      const auto turned = measure::upright(map, o);
      CHECK(turned.sigma.size() == image::upright(map.sigma.size(), o));
      CHECK(cv::norm(turned.sigma, image::upright(map.sigma, o)) == 0);
      const bool swapped = o >= 5;
      CHECK(cv::countNonZero(turned.lies) ==
            (swapped ? static_cast<int>(map.lies.total()) - cv::countNonZero(map.lies)
                     : cv::countNonZero(map.lies)));
    }
  }

  TEST_CASE("the measure names side, ratio and place; nothing is said of an empty sky") {
    generate::PlanOptions options;
    options.set = "depth";
    options.seed = 4242;
    options.bursts = 4;
    int sides = 0, clear = 0;
    for (const auto& burst : generate::plan(options))
      for (const auto& spec : burst.frames) {
        auto frame = generate::render_frame(burst, spec);
        decode::Planes planes;
        planes.luma = luma_of(spec, frame);
        planes.source = "jpeg";
        const cv::Mat activity = image::activity_map(planes.luma);
        const Capture capture;
        measure::PixelInput input{&planes, &activity, &capture, {frame.truth.subject, std::nullopt, .8, "t"},
                                  {},      {}};
        input.detail = measure::gather_detail(planes.luma, activity, 1, frame.truth.head);
        const auto out = measure::measure_pixels(input);
        const Measure* ratio = find(out, "focus_elsewhere");
        if (spec.focus_on == generate::FocusOn::subject) {
          if (ratio) CHECK(ratio->value < 1.5);
          continue;
        }
        const Measure* side = find(out, "focus_elsewhere_side");
        if (!ratio || !side) continue;
        ++sides;
        CHECK(side->value == (spec.focus_on == generate::FocusOn::foreground ? -1 : 1));
        CHECK(find(out, "focus_elsewhere_px")->value < 1.5);
        // A head smaller than the tiles that blur is measured in may hold a sharp reed: then less is claimed.
        clear += ratio->value > 1.5;
        CHECK((ratio->value > 1.3 || ratio->confidence < .5));
      }
    CHECK(sides >= 10);
    CHECK(clear >= .8 * sides);
    decode::Planes sky;
    sky.luma = targets::developed(cv::Mat(512, 512, CV_32F, cv::Scalar(.3)), 1e-4, 1e-6, 3);
    sky.source = "jpeg";
    const cv::Mat activity = image::activity_map(sky.luma);
    const Capture capture;
    CHECK(find(measure::measure_pixels(
                   {&sky, &activity, &capture, {{.3, .3, .3, .3}, std::nullopt, .8, "t"}, {}, {}}),
               "focus_elsewhere") == nullptr);
  }
}
