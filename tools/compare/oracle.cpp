// What knowing the noise would be worth: the frame's own estimate against the true one.
#include <fmt/format.h>

#include <cmath>
#include <cstdio>

#include "burstsieve/image/activity.h"
#include "rendering.h"
#include "tables.h"

namespace burstsieve::compare {
namespace {

struct Score {
  long within = 0, frames = 0, right = 0, pairs = 0;
  double off = 0;  // sum of |ln|
  void add(double measured, double known, double bar) {
    const double ratio = measured / known;
    within += std::abs(ratio - 1) <= bar;
    off += std::abs(std::log(std::max(.05, ratio)));
    ++frames;
  }
  void order(const std::vector<double>& sigmas) {
    for (std::size_t i = 0; i < sigmas.size(); ++i)
      for (std::size_t j = i + 1; j < sigmas.size(); ++j) ++pairs, right += sigmas[i] < sigmas[j];
  }
  std::string text() const {
    return fmt::format(
        "{:.3f} | {:.1f} % | {:.4f}", static_cast<double>(within) / static_cast<double>(frames),
        100 * off / static_cast<double>(frames), static_cast<double>(right) / static_cast<double>(pairs));
  }
};

// The floors of even panels with the same noise through the same rendering: nothing in them is texture.
measure::NoiseFloors true_floors(const Rendering& rendering, double noise) {
  cv::Mat panels(256, 1024, CV_32F);
  constexpr double kLevels[] = {.04, .15, .35, .7};
  for (int x = 0; x < panels.cols; ++x) panels.col(x) = kLevels[x / 256];
  const cv::Mat luma = rendered({"panels", panels, {0, 0, 1, 1}, {}}, rendering, noise, 77);
  return measure::noise_floors(luma, image::activity_map(luma));
}

cv::Mat upper_half(const cv::Mat& m) {
  return m.empty() ? m : m.rowRange(0, m.rows / 2).clone();
}

struct Pair {
  Score own, known;
  void ladder(const std::vector<Scene>& scenes, const std::vector<double>& truth, const Rendering& rendering,
              double noise, unsigned seed) {
    std::vector<double> by_own, by_known;
    const auto noises = frame_noises(noise, true, scenes.size(), seed);
    for (std::size_t i = 0; i < scenes.size(); ++i) {
      const cv::Mat luma = rendered(scenes[i], rendering, noises[i], seed * 131 + static_cast<unsigned>(i));
      const auto floors = true_floors(rendering, noises[i]);
      by_own.push_back(ours(luma, scenes[i].region).sigma);
      by_known.push_back(ours(luma, scenes[i].region, &floors).sigma);
      own.add(by_own.back(), truth[i], noise > .02 ? .15 : .10);
      known.add(by_known.back(), truth[i], noise > .02 ? .15 : .10);
    }
    own.order(by_own);
    known.order(by_known);
  }
};

void row(const std::string& name, const Pair& pair) {
  fmt::print("| {} | {} | {} |\n", name, pair.own.text(), pair.known.text());
  std::fflush(stdout);
}

}  // namespace

void print_oracle(unsigned first, int seeds, const std::vector<Scene>& photographs) {
  fmt::print(
      "\n### The frame's own noise estimate, and the true noise\n\nWithin the bar (10 % to 2 % noise, 15 % "
      "at "
      "6 %), mean error, order of pairs; noise varies x.6-1.6 between frames.\n\n"
      "| set | own: within | own: error | own: order | true: within | true: error | true: order |\n"
      "|---|---|---|---|---|---|---|\n");
  std::vector<double> steps;
  for (int k = 0; k < 10; ++k) steps.push_back(.7 * std::pow(1.2, k));
  for (const Rendering& rendering : {Rendering{}, Rendering{Mosaic::bilinear, 92, false}})
    for (const bool bare : {false, true})
      for (const double noise : {.02, .06}) {
        Pair pair;
        for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed) {
          std::vector<Scene> scenes;
          for (const double s : steps) {
            scenes.push_back(coloured_target(Target::leaves, s, seed));
            if (!bare) continue;
            Scene& last = scenes.back();
            last = {last.name, upper_half(last.linear), {.1, .1, .8, .8}, upper_half(last.colour)};
          }
          auto truth = steps;
          for (double& t : truth) t = std::sqrt(t * t + demosaic_variance(rendering.mosaic));
          pair.ladder(scenes, truth, rendering, noise, seed);
        }
        row(fmt::format("leaves{}, {}, {:.0f} %", bare ? " without sky" : "", rendering.name(), noise * 100),
            pair);
      }
  // Truth of a photograph: its own noise-free reading at each step.
  for (const Rendering& rendering : {Rendering{}, Rendering{Mosaic::bilinear, 92, false}})
    for (const double noise : {.02, .06}) {
      Pair all;
      for (const Scene& photograph : photographs) {
        std::vector<Scene> scenes;
        std::vector<double> truth;
        for (const double s : geometric(.8, 4, 8)) {
          scenes.push_back(blurred(photograph, s));
          truth.push_back(ours(rendered(scenes.back(), rendering, 0, 1), photograph.region).sigma);
        }
        for (unsigned seed = first; seed < first + 3; ++seed)
          all.ladder(scenes, truth, rendering, noise, seed);
      }
      row(fmt::format("photographs, {}, {:.0f} %", rendering.name(), noise * 100), all);
    }
}

}  // namespace burstsieve::compare
