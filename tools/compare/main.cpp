// burstsieve-compare: our sharpness and the published measures on the same frames of known blur, as the
// tables of docs/measures.md.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>
#include <opencv2/core.hpp>
#include <random>
#include <string>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/detail.h"
#include "published.h"
#include "scenes.h"
#include "tables.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::compare;

constexpr double kNoises[] = {0, .02, .06};

cv::Mat cut(const cv::Mat& luma, const Region& r) {
  return luma(cv::Rect(static_cast<int>(r.x * luma.cols), static_cast<int>(r.y * luma.rows),
                       static_cast<int>(r.w * luma.cols), static_cast<int>(r.h * luma.rows)))
      .clone();
}

// Every measure on one frame, higher = sharper. Ours is the first.
std::vector<double> all_values(const cv::Mat& luma, const Region& region) {
  std::vector<double> out{-ours(luma, region).sigma};
  const cv::Mat crop = cut(luma, region);
  for (const Published& p : published()) out.push_back(p.lower_is_sharper ? -p.value(crop) : p.value(crop));
  return out;
}

void print_bias(unsigned first, int seeds) {
  const std::vector<double> ladder{.6, .8, 1.0, 1.4, 2.0, 2.8, 4.0};
  fmt::print("\n### Measured / true sigma: mean (least-most) of {} seeds\n\n| target | noise |", seeds);
  for (const double s : ladder) fmt::print(" {:.1f} px |", s);
  fmt::print("\n|---|---|");
  for (std::size_t i = 0; i < ladder.size(); ++i) fmt::print("---|");
  fmt::print("\n");
  for (const Target kind : {Target::edge, Target::leaves})
    for (const double noise : kNoises) {
      fmt::print("| {} | {:.0f} % |", kind == Target::edge ? "step edge" : "dead leaves", noise * 100);
      for (const double sigma : ladder) {
        Spread spread;
        for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed) {
          const Scene scene = target(kind, sigma, seed);
          spread.add(ours(developed(scene, noise, seed), scene.region).sigma / sigma);
        }
        fmt::print(" {} |", spread.text());
      }
      fmt::print("\n");
      std::fflush(stdout);
    }
}

void print_added(const std::vector<Scene>& photographs) {
  const std::vector<double> ladder{1, 1.5, 2, 3, 4};
  fmt::print(
      "\n### Photographs: blur added / blur recovered, sqrt(after² - before²)\n\n| photograph | before, px "
      "|");
  for (const double s : ladder) fmt::print(" +{:.1f} px |", s);
  fmt::print("\n|---|---|---|---|---|---|---|\n");
  for (const Scene& photograph : photographs) {
    const double before = ours(developed(photograph, 0, 1), photograph.region).sigma;
    fmt::print("| {} | {:.2f} |", photograph.name, before);
    for (const double added : ladder) {
      const Scene soft = blurred(photograph, added);
      const double after = ours(developed(soft, 0, 1), soft.region).sigma;
      fmt::print(" {:.3f} |", std::sqrt(std::max(0.0, after * after - before * before)) / added);
    }
    fmt::print("\n");
    std::fflush(stdout);
  }
}

void print_exposure(unsigned first, int seeds) {
  fmt::print(
      "\n### Exposure: sigma at -2, -1, +1, +2 EV over sigma at 0 EV, dead leaves of 1.2 px, same photon "
      "count\n\n");
  fmt::print("| -2 EV | -1 EV | +1 EV | +2 EV |\n|---|---|---|---|\n|");
  for (const double gain : {.25, .5, 2.0, 4.0}) {
    Spread spread;
    for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed) {
      Scene scene = target(Target::leaves, 1.2, seed);
      scene.linear *= .24;  // nothing clips at +2 EV
      const double base = ours(developed(scene, .002, 9), scene.region).sigma;
      spread.add(ours(developed(scene, .002, 9, gain), scene.region).sigma / base);
    }
    fmt::print(" {} |", spread.text());
  }
  fmt::print("\n");
}

// Share of frame pairs of one scene that each measure puts in the right order.
struct Order {
  std::vector<long> right = std::vector<long>(1 + published().size(), 0);
  long pairs = 0;
};

using FrameOf = std::function<cv::Mat(double sigma, double noise, unsigned seed)>;

void add_scene(Order& order, const std::vector<double>& ladder, double least_ratio, double noise, bool varies,
               unsigned seed, const Region& region, const FrameOf& frame) {
  const auto noises = frame_noises(noise, varies, ladder.size(), seed);
  std::vector<std::vector<double>> values;
  for (std::size_t i = 0; i < ladder.size(); ++i)
    values.push_back(all_values(frame(ladder[i], noises[i], seed * 131 + static_cast<unsigned>(i)), region));
  for (std::size_t i = 0; i < ladder.size(); ++i)
    for (std::size_t j = i + 1; j < ladder.size(); ++j) {
      if (ladder[j] < least_ratio * ladder[i] * (1 - 1e-9)) continue;
      ++order.pairs;
      for (std::size_t m = 0; m < order.right.size(); ++m) order.right[m] += values[i][m] > values[j][m];
    }
}

// CPU ms per megapixel of the region on one thread, over a region of 1 MP.
std::vector<double> costs() {
  Scene scene = target(Target::leaves, 1.2, 3);
  cv::Mat wide;
  cv::repeat(scene.linear(cv::Rect(0, 0, 384, 384)), 3, 3, wide);
  scene.linear = wide(cv::Rect(0, 0, 1024, 1024)).clone();
  const cv::Mat luma = developed(scene, .01, 1);
  const double mp = static_cast<double>(luma.total()) / 1e6;
  const auto timed = [&](const std::function<void()>& work) {
    std::vector<double> ms;
    for (int i = 0; i < 9; ++i) {
      const std::clock_t start = std::clock();
      work();
      ms.push_back(1e3 * static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);
    }
    std::sort(ms.begin(), ms.end());
    return ms[ms.size() / 2] / mp;
  };
  std::vector<double> out{timed([&] { ours(luma, {0, 0, 1, 1}); })};
  for (const Published& p : published()) out.push_back(timed([&] { p.value(luma); }));
  return out;
}

void print_order(unsigned first, int seeds, const std::vector<Scene>& photographs) {
  struct Column {
    std::string name;
    Order order;
  };
  std::vector<Column> columns;
  std::map<std::pair<double, unsigned>, Scene> kept;  // drawing takes longer than measuring
  const auto drawn = [&](double sigma, unsigned seed) -> const Scene& {
    auto& scene = kept[{sigma, seed}];
    if (scene.linear.empty()) scene = target(Target::leaves, sigma, seed);
    return scene;
  };
  const auto wide = geometric(.5, 3, 8);
  std::vector<double> close;
  for (int k = 0; k < 14; ++k) close.push_back(.7 * std::pow(1.1, k));
  for (const double noise : {.02, .06})
    for (const bool varies : {false, true}) {
      const std::string tail = fmt::format(", {:.0f} %{}", noise * 100, varies ? " x.6-1.6" : "");
      Column far{"wide" + tail, {}}, near{"close" + tail, {}}, real{"photos" + tail, {}};
      for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed) {
        const auto of = [&](double sigma, double n, unsigned s) {
          return developed(drawn(sigma, seed), n, s);
        };
        const Region region = target(Target::edge, 1, 1).region;
        add_scene(far.order, wide, 1.1, noise, varies, seed, region, of);
        add_scene(near.order, close, 1.1, noise, varies, seed, region, of);
      }
      for (unsigned seed = first; seed < first + 3; ++seed)
        for (const Scene& photograph : photographs)
          add_scene(real.order, geometric(.8, 4, 8), 1.1, noise, varies, seed, photograph.region,
                    [&](double sigma, double n, unsigned s) {
                      return developed(blurred(photograph, sigma), n, s);
                    });
      for (Column* c : {&far, &near, &real}) columns.push_back(std::move(*c));
      fmt::print(stderr, "order{} done\n", tail);
    }
  const auto ms = costs();
  fmt::print("\n### Share of pairs in the right order\n\n| measure |");
  for (const Column& c : columns) fmt::print(" {} |", c.name);
  fmt::print(" ms/MP |\n|---|");
  for (std::size_t i = 0; i <= columns.size(); ++i) fmt::print("---|");
  for (std::size_t m = 0; m <= published().size(); ++m) {
    fmt::print("\n| {} |", m == 0 ? std::string_view("**blur_sigma_px (ours)**") : published()[m - 1].name);
    for (const Column& c : columns)
      fmt::print(" {:.4f} |", c.order.pairs
                                  ? static_cast<double>(c.order.right[m]) / static_cast<double>(c.order.pairs)
                                  : 0);
    fmt::print(" {:.1f} |", ms[m]);
  }
  fmt::print("\n| pairs |");
  for (const Column& c : columns) fmt::print(" {} |", c.order.pairs);
  fmt::print(" |\n");
}

std::string default_cache() {
  if (const char* named = std::getenv("BURSTSIEVE_TEST_DATA")) return named;
  if (const char* xdg = std::getenv("XDG_CACHE_HOME")) return std::string(xdg) + "/burstsieve-test-data";
  const char* home = std::getenv("HOME");
  return std::string(home ? home : "") + "/.cache/burstsieve-test-data";
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Our sharpness and published measures on frames of known blur, as Markdown tables."};
  int seeds = 25;
  unsigned first = 1001;
  std::string cache = default_cache();
  std::vector<std::string> only;
  app.add_option("--seeds", seeds, "scenes per row of the tables")->check(CLI::Range(1, 1000));
  app.add_option("--first", first, "seed of the first of them");
  app.add_option("--photos", cache, "where tools/test-data.sh put the photographs");
  app.add_option("--only", only,
                 "tables to print: bias, added, exposure, order, degraded, degraded-order, oracle, "
                 "reliability");
  CLI11_PARSE(app, argc, argv);
  cv::setNumThreads(1);
  const auto wanted = [&](const char* table) {
    return only.empty() || std::find(only.begin(), only.end(), table) != only.end();
  };
  const auto photographs = compare::photographs(cache);
  if (photographs.empty())
    fmt::print(stderr, "no photographs below {} (tools/test-data.sh fetches them)\n", cache);
  if (wanted("bias")) print_bias(first, seeds);
  if (wanted("added")) print_added(photographs);
  if (wanted("exposure")) print_exposure(first, seeds);
  if (wanted("order")) print_order(first, seeds, photographs);
  if (wanted("degraded")) print_degraded(first, seeds, photographs);
  if (wanted("degraded-order")) print_degraded_order(first, seeds, photographs);
  if (wanted("oracle")) print_oracle(first, seeds, photographs);
  if (wanted("reliability")) print_reliability(first, seeds);
  return 0;
}
