// Several birds at different distances, each with its own defocus (set "several" of tools/generate). The
// truth is the plan's; boxes are given, so that this says what the measures do and not what a finder finds.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/subjects.h"
#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"
#include "frame.h"
#include "measure/targets.h"

using namespace burstsieve;

namespace {

struct Bird {
  Region box;       // of what the frame shows
  double blur = 0;  // px, the pixel's aperture taken off, as blur_sigma_px has it
  double cut = 0;
};

std::vector<Bird> birds_of(const generate::FrameTruth& t) {
  const auto blur = [](double sigma) { return std::sqrt(std::max(0.0, sigma * sigma - 1.0 / 12)); };
  std::vector<Bird> out{{t.subject, blur(t.blur_sigma_px), t.cut_by_edge}};
  for (const auto& o : t.others) out.push_back({o.subject, blur(o.blur_sigma_px), o.cut_by_edge});
  return out;
}

// As the camera would develop it, noise and all, without the JPEG.
decode::Planes planes_of(const generate::FrameSpec& spec, generate::RenderedFrame& frame) {
  generate::to_sensor_rgb(frame.light);
  cv::Mat sensor = frame.light;
  generate::add_sensor_noise(sensor, generate::noise_at_iso(spec.iso), spec.seed);
  decode::Planes out;
  cv::cvtColor(generate::developed(frame.light), out.luma, cv::COLOR_BGR2GRAY);
  out.source = "jpeg";
  return out;
}

struct Look {
  std::vector<Subject> subjects;
  std::vector<Measure> frame;
};

Look look_at(const decode::Planes& planes, std::vector<Subject> subjects) {
  const cv::Mat activity = image::activity_map(planes.luma);
  const cv::Mat energy = subject::energy_map(activity);
  const auto focus = measure::focus_map(planes.luma, activity);
  const Capture capture;
  Look out{std::move(subjects), {}};
  const auto input =
      measure::measure_subjects({planes, activity, capture, focus}, out.subjects,
                                [&](const Subject& s) { return subject::subject_mask(energy, s.box); });
  out.frame = measure::measure_pixels(input);
  return out;
}

void for_each_frame(std::uint64_t seed, int bursts,
                    const std::function<void(const decode::Planes&, const std::vector<Bird>&)>& visit) {
  generate::PlanOptions options;
  options.set = "several";
  options.seed = seed;
  options.bursts = bursts;
  for (const auto& burst : generate::plan(options))
    for (const auto& spec : burst.frames) {
      auto frame = generate::render_frame(burst, spec);
      const auto birds = birds_of(frame.truth);
      visit(planes_of(spec, frame), birds);
    }
}

}  // namespace

namespace {

bool sweep() {
  return std::getenv("BURSTSIEVE_SWEEP") != nullptr;
}

constexpr double kCounts = .3;  // confidence of a blur that counts

struct Score {
  int frames = 0, birds = 0, counted = 0, within10 = 0, within15 = 0;
  int differing = 0, right = 0;  // frames whose softest bird is 20 % softer than the next
  int whole = 0, whole_said = 0, cut = 0, cut_said = 0, cut_high = 0;
  double worst_size = 0;
};

void add_birds(const Look& look, const std::vector<Bird>& birds, cv::Size size, Score& out) {
  for (std::size_t i = 0; i < birds.size(); ++i) {
    const Bird& b = birds[i];
    const auto& measures = look.subjects[i].measures;
    ++out.birds;
    if (const Measure* blur = find(measures, "blur_sigma_px"); blur && blur->confidence >= kCounts) {
      ++out.counted;
      const double off = std::abs(blur->value - b.blur);
      out.within10 += off < std::max(.10, .10 * b.blur);
      out.within15 += off < std::max(.15, .15 * b.blur);
    }
    const double longer = std::max(b.box.w, b.box.h * size.height / size.width);
    const Measure* seen = find(measures, "subject_size");
    REQUIRE(seen);
    out.worst_size = std::max(out.worst_size, std::abs(seen->value / longer - 1));
    const Measure* cut = find(measures, "cut_by_edge");
    const double share = cut ? cut->value : 0;
    (b.cut > 0 ? out.cut : out.whole) += 1;
    (b.cut > 0 ? out.cut_said : out.whole_said) += share > 0;
    out.cut_high += share > b.cut + .2;
  }
}

void add_frame(const Look& look, const std::vector<Bird>& birds, Score& out) {
  ++out.frames;
  std::vector<double> blurs;
  for (const Bird& b : birds) blurs.push_back(b.blur);
  std::sort(blurs.rbegin(), blurs.rend());
  if (blurs.size() < 2 || blurs[0] < 1.2 * blurs[1]) return;
  ++out.differing;
  const Measure* least = find(look.frame, "least_sharp_px");
  if (!least) return;
  for (std::size_t i = 0; i < birds.size(); ++i) {
    const Measure* blur = find(look.subjects[i].measures, "blur_sigma_px");
    if (birds[i].blur != blurs[0]) continue;
    const bool right = blur && blur->value == least->value;
    out.right += right;
    if (!right)
      MESSAGE("softest " << birds[i].blur << " measured " << (blur ? blur->value : -1) << " at "
                         << (blur ? blur->confidence : 0) << ", said " << least->value << " at "
                         << least->confidence);
  }
}

}  // namespace

TEST_SUITE("measure/several") {
  // BURSTSIEVE_SWEEP: the 240 frames behind the figures in docs/measures.md.
  TEST_CASE("two or three birds: each one's blur, the least sharp one, size and cut, against the plan") {
    Score s;
    for_each_frame(4242, sweep() ? 60 : 8, [&](const decode::Planes& planes, const std::vector<Bird>& birds) {
      std::vector<Subject> given;
      for (const Bird& b : birds) given.push_back({b.box, std::nullopt, .8, "truth"});
      const Look look = look_at(planes, given);
      add_birds(look, birds, planes.luma.size(), s);
      add_frame(look, birds, s);
    });
    MESSAGE(s.frames << " frames; " << s.birds << " birds, blur of " << s.counted << ", within 10 % "
                     << s.within10 << ", 15 % " << s.within15 << "; softest right " << s.right << " of "
                     << s.differing << "; whole " << s.whole << " said cut " << s.whole_said << "; cut "
                     << s.cut << " said cut " << s.cut_said << ", more than .2 too high " << s.cut_high
                     << "; worst size " << s.worst_size);
    CHECK(s.counted >= .85 * s.birds);
    CHECK(s.within15 >= .95 * s.counted);
    CHECK(s.differing >= .5 * s.frames);
    CHECK(s.right >= .95 * s.differing);
    CHECK(s.worst_size < .02);
    CHECK(s.cut_said >= .9 * s.cut);
    CHECK(s.whole_said <= .1 * s.whole);
  }

  TEST_CASE("boxes that cross: what the better one covers is not asked of the other") {
    const Subject first{{.2, .2, .4, .4}, std::nullopt, .8, "t"};
    const std::vector<Subject> others{first};
    CHECK(measure::free_of({.7, .7, .2, .2}, others) == Region{.7, .7, .2, .2});
    const Region right = measure::free_of({.5, .25, .3, .2}, others);
    CHECK(right.x == doctest::Approx(.6));
    CHECK(right.w == doctest::Approx(.2));
    CHECK(measure::free_of({.25, .25, .2, .2}, others).empty());
    CHECK(measure::free_of({.2, .2, .42, .4}, others).empty());
  }

  TEST_CASE("a sharp bird across the box of a soft one does not vouch for it") {
    decode::Planes planes;
    const cv::Mat soft = targets::leaves(512, 3.0, 5), sharp = targets::leaves(512, .7, 6);
    cv::Mat light;
    cv::hconcat(soft, sharp, light);
    planes.luma = targets::developed(light, 1e-5, 1e-7, 3);
    planes.source = "jpeg";
    // The soft one's box reaches over the sharp one.
    const Look look =
        look_at(planes, {{{.5, 0, .5, 1}, std::nullopt, .9, "t"}, {{.1, 0, .6, 1}, std::nullopt, .8, "t"}});
    CHECK(find(look.subjects[0].measures, "blur_sigma_px")->value == doctest::Approx(.7).epsilon(.15));
    CHECK(find(look.subjects[1].measures, "blur_sigma_px")->value == doctest::Approx(3.0).epsilon(.15));
    CHECK(find(look.frame, "least_sharp_px")->value == doctest::Approx(3.0).epsilon(.15));
    CHECK(find(look.frame, "blur_sigma_px")->value == doctest::Approx(.7).epsilon(.15));
    CHECK(find(look.frame, "subject_count")->value == 2);
    const double sure = find(look.subjects[1].measures, "blur_sigma_px")->confidence;
    CHECK(find(look.frame, "least_sharp_px")->confidence > .3);
    CHECK(find(look.frame, "least_sharp_px")->confidence < sure);  // it may be no animal
  }

  TEST_CASE("at most four are measured, and of the further ones only those that are likely animals") {
    decode::Planes planes;
    planes.luma = targets::developed(targets::leaves(640, 1.0, 5), 1e-5, 1e-7, 3);
    planes.source = "jpeg";
    std::vector<Subject> many{{{0, 0, .3, .3}, std::nullopt, .1, "t"}};
    for (int i = 1; i < 6; ++i)
      many.push_back({{.35 * (i % 3), .35 * (i / 3), .3, .3}, std::nullopt, i == 2 ? .2 : .9, "t"});
    const Look look = look_at(planes, many);
    for (std::size_t i = 0; i < many.size(); ++i)
      CHECK(look.subjects[i].measures.empty() == (i == 2 || i >= measure::kMostSubjects));
    CHECK(find(look.frame, "subject_count")->value == 3);
    CHECK(find(look.frame, "subject_count")->confidence < .2);
  }

  // What today's finders give, on grey pictures without an AF area; figures in docs/measures.md.
  TEST_CASE("of the further subjects that the finders trust most are birds") {
    if (!sweep()) return;
    for (const char* set : {"several", "season"}) {
      generate::PlanOptions options;
      options.set = set;
      options.seed = 99;
      options.bursts = 40;
      int frames = 0, all = 0, found = 0, first = 0, trusted = 0, trusted_right = 0;
      for (const auto& burst : generate::plan(options))
        for (const auto& spec : burst.frames) {
          if (burst.orientation != 1) continue;
          auto frame = generate::render_frame(burst, spec);
          const auto birds = birds_of(frame.truth);
          const auto planes = planes_of(spec, frame);
          cv::Mat eighth;
          cv::resize(planes.luma, eighth, {}, .125, .125, cv::INTER_AREA);
          cv::cvtColor(eighth, eighth, cv::COLOR_GRAY2BGR);
          const cv::Mat energy = subject::energy_map(image::activity_map(planes.luma));
          const Capture capture;
          const auto now = subject::glance_at(eighth);
          const auto subjects = subject::find_subjects({&eighth, &energy, &capture, &now, nullptr});
          const auto same = [](const Subject& s, const Bird& b) { return overlap(s.box, b.box) >= .3; };
          const auto bird = [&](const Subject& s) {
            return std::any_of(birds.begin(), birds.end(), [&](const Bird& b) { return same(s, b); });
          };
          ++frames;
          for (std::size_t i = 0; i < subjects.size(); ++i) {
            if (i == 0) first += bird(subjects[i]);
            if (i == 0 || subjects[i].confidence < measure::kTrustedSubject) continue;
            ++trusted;
            trusted_right += bird(subjects[i]);
          }
          for (const Bird& b : birds) {
            ++all;
            found +=
                std::any_of(subjects.begin(), subjects.end(), [&](const Subject& s) { return same(s, b); });
          }
        }
      MESSAGE(std::string(set) << ": " << frames << " frames, first right " << first << ", birds found "
                               << found << " of " << all << ", further trusted " << trusted << ", right "
                               << trusted_right);
      CHECK(first >= .9 * frames);
    }
  }
}
