// Following an animal from frame to frame, on generated bursts whose truth is known.
#include "burstsieve/subject/track.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/subject/energy_map.h"
#include "frame.h"
#include "plan.h"

using namespace burstsieve;

namespace {

struct Seen {
  subject::Glance glance;
  cv::Mat energy;
  generate::FrameTruth truth;
};

std::vector<Seen> seen(const generate::BurstSpec& burst, std::size_t most) {
  std::vector<Seen> out;
  for (const auto& spec : burst.frames) {
    if (out.size() == most) break;
    auto frame = generate::render_frame(burst, spec);
    generate::to_sensor_rgb(frame.light);
    cv::Mat sensor = frame.light;
    generate::add_sensor_noise(sensor, generate::noise_at_iso(spec.iso), spec.seed);
    const cv::Mat picture = image::upright(generate::developed(frame.light), burst.orientation);
    cv::Mat luma;
    cv::cvtColor(picture, luma, cv::COLOR_BGR2GRAY);
    out.push_back({subject::glance_at(picture), subject::energy_map(image::activity_map(luma)), frame.truth});
  }
  return out;
}

struct Step {
  double confidence = 0, overlap = 0;
};

// On by its own boxes while they are trusted, from the truth where they are not and in every `key`-th frame:
// what the engine does with a detector.
std::vector<Step> followed(std::uint64_t seed, int bursts, std::size_t key) {
  generate::PlanOptions options;
  options.set = "season";
  options.seed = seed;
  options.bursts = bursts;
  std::vector<Step> out;
  for (const auto& burst : generate::plan(options)) {
    const auto frames = seen(burst, 8);
    Region box;
    for (std::size_t i = 0; i < frames.size(); ++i) {
      if (i % key == 0) {
        box = frames[i].truth.subject;
        continue;
      }
      const auto t = subject::follow_animal(frames[i - 1].glance, box, frames[i].glance, frames[i].energy);
      out.push_back({t.confidence, overlap(t.box, frames[i].truth.subject)});
      box = t.confidence >= subject::kTrackTrusted ? t.box : frames[i].truth.subject;
    }
  }
  return out;
}

double share_over(const std::vector<Step>& steps, double iou, double confidence) {
  int of = 0, over = 0;
  for (const Step& s : steps)
    if (s.confidence >= confidence) ++of, over += s.overlap >= iou;
  return of > 0 ? static_cast<double>(over) / of : 1;
}

subject::Glance glance_of(const cv::Mat1f& grey) {
  return {grey};
}

cv::Mat1f textured(unsigned seed, cv::Size size, double sigma) {
  cv::RNG rng(seed);
  cv::Mat1f out(size);
  rng.fill(out, cv::RNG::UNIFORM, 0, 1);
  if (sigma > 0) cv::GaussianBlur(out, out, {}, sigma);
  cv::normalize(out, out, .1, .9, cv::NORM_MINMAX);
  return out;
}

// A patch on a backdrop, both moved by whole pixels of their own.
subject::Glance composed(cv::Point backdrop_shift, cv::Point patch_at) {
  const cv::Mat1f backdrop = textured(3, {400, 300}, 4), patch = textured(7, {30, 20}, 1);
  cv::Mat1f grey = backdrop(cv::Rect(60 - backdrop_shift.x, 60 - backdrop_shift.y, 256, 170)).clone();
  patch.copyTo(grey(cv::Rect(patch_at, patch.size())));
  return glance_of(grey);
}

Region box_of(cv::Point at) {
  return {at.x / 256.0, at.y / 170.0, 30 / 256.0, 20 / 170.0};
}

}  // namespace

TEST_SUITE("subject/track") {
  TEST_CASE("a patch is found where it went: with the pan, against it, with the rocking boat") {
    const cv::Point from(100, 60);
    for (const auto& [background, patch] : {std::pair<cv::Point, cv::Point>{{20, 3}, {0, 0}},
                                            {{0, 0}, {9, -5}},
                                            {{-14, 10}, {-14, 10}},
                                            {{25, -8}, {-6, 4}}}) {
      const auto t =
          subject::follow_box(composed({}, from), box_of(from), composed(background, from + patch));
      CHECK(t.confidence > .6);
      CHECK(t.box.x * 256 == doctest::Approx(from.x + patch.x).epsilon(.01));
      CHECK(t.box.y * 170 == doctest::Approx(from.y + patch.y).epsilon(.02));
    }
  }

  TEST_CASE("what has gone is lost, and so is what never was") {
    const cv::Point from(100, 60);
    const auto before = composed({}, from);
    const auto gone = glance_of(textured(3, {400, 300}, 4)(cv::Rect(60, 60, 256, 170)).clone());
    CHECK(subject::follow_box(before, box_of(from), gone).confidence < .3);
    CHECK(subject::follow_box(before, {.2, .2, .001, .001}, before).confidence == 0);
    CHECK(subject::follow_box(before, {}, before).confidence == 0);
    CHECK(subject::follow_box({}, box_of(from), before).confidence == 0);
    CHECK(subject::follow_box(before, box_of(from), glance_of(cv::Mat1f(20, 20, .5F))).confidence == 0);
    const auto flat = glance_of(cv::Mat1f(170, 256, .5F));
    CHECK(subject::follow_box(flat, box_of(from), flat).confidence <= .5);
    CHECK(std::isfinite(subject::follow_box(flat, box_of(from), flat).box.x));
  }

  // Wings beat, birds turn: what is lost is searched anew, what is trusted must be there.
  TEST_CASE(
      "on generated bursts a trusted box holds the bird for the three frames up to the next key frame") {
    const bool sweep = std::getenv("BURSTSIEVE_SWEEP") != nullptr;
    const auto steps = followed(9001, sweep ? 60 : 8, 4);
    for (const double c : {0.0, .3, .5, .7, .9}) {
      const auto of =
          std::count_if(steps.begin(), steps.end(), [&](const Step& s) { return s.confidence >= c; });
      MESSAGE("confidence from " << c << ": " << of << " of " << steps.size() << ", IoU .5 in "
                                 << share_over(steps, .5, c) << ", .7 in " << share_over(steps, .7, c));
    }
    const auto trusted = std::count_if(steps.begin(), steps.end(),
                                       [](const Step& s) { return s.confidence >= subject::kTrackTrusted; });
    CHECK(3 * trusted >= static_cast<long>(steps.size()));  // else the detector has all the work
    CHECK(share_over(steps, .5, subject::kTrackTrusted) >= .9);
  }
}
