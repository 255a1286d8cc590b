// The same targets and photographs after a colour filter, demosaicing and JPEG.
#include <fmt/format.h>

#include <cmath>
#include <cstdio>

#include "rendering.h"
#include "tables.h"

namespace burstsieve::compare {
namespace {

const std::vector<Rendering> kRenderings{
    {},
    {Mosaic::none, 75, false},
    {Mosaic::none, 75, true},
    {Mosaic::none, 85, false},
    {Mosaic::none, 85, true},
    {Mosaic::none, 95, false},
    {Mosaic::none, 95, true},
    {Mosaic::bilinear, 0, false},
    {Mosaic::bilinear, 92, false},
    {Mosaic::bilinear, 92, true},
    {Mosaic::edge_aware, 0, false},
    {Mosaic::edge_aware, 92, false},
    {Mosaic::edge_aware, 92, true},
};
// Chroma does not reach the luma plane: one of each is enough for the order.
const std::vector<Rendering> kOrdered{
    {},
    {Mosaic::none, 75, false},
    {Mosaic::none, 85, false},
    {Mosaic::none, 95, false},
    {Mosaic::bilinear, 92, false},
    {Mosaic::edge_aware, 92, false},
};
constexpr double kNoises[] = {0, .02, .06};

struct Share {
  long right = 0, pairs = 0;
  std::string text() const {
    return fmt::format("{:.4f}", pairs ? static_cast<double>(right) / static_cast<double>(pairs) : 0);
  }
};

void add_pairs(const std::vector<double>& sigmas, Share& share) {
  for (std::size_t i = 0; i < sigmas.size(); ++i)
    for (std::size_t j = i + 1; j < sigmas.size(); ++j) ++share.pairs, share.right += sigmas[i] < sigmas[j];
}

void print_ladder(unsigned first, int seeds) {
  const std::vector<double> ladder{.6, .8, 1.0, 1.4, 2.0, 2.8, 4.0};
  for (const Target kind : {Target::edge, Target::leaves}) {
    std::vector<std::vector<Spread>> cells(kRenderings.size() * 3, std::vector<Spread>(ladder.size()));
    for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed)
      for (std::size_t k = 0; k < ladder.size(); ++k) {
        const Scene scene = coloured_target(kind, ladder[k], seed);
        for (std::size_t r = 0; r < kRenderings.size(); ++r)
          for (std::size_t n = 0; n < 3; ++n)
            cells[r * 3 + n][k].add(
                ours(rendered(scene, kRenderings[r], kNoises[n], seed), scene.region).sigma / ladder[k]);
      }
    fmt::print("\n### {} through colour filter and JPEG: measured / true, {} seeds from {}\n\n",
               kind == Target::edge ? "Step edges" : "Dead leaves", seeds, first);
    fmt::print("| rendering | noise |");
    for (const double s : ladder) fmt::print(" {:.1f} px |", s);
    fmt::print("\n|---|---|---|---|---|---|---|---|---|\n");
    for (std::size_t r = 0; r < kRenderings.size(); ++r)
      for (std::size_t n = 0; n < 3; ++n) {
        fmt::print("| {} | {:.0f} % |", kRenderings[r].name(), kNoises[n] * 100);
        for (const Spread& s : cells[r * 3 + n]) fmt::print(" {} |", s.text());
        fmt::print("\n");
      }
    std::fflush(stdout);
  }
}

void print_added_blur(const std::vector<Scene>& photographs) {
  const std::vector<double> ladder{1, 1.5, 2, 3, 4};
  fmt::print("\n### Photographs through colour filter and JPEG: blur recovered / added, 1 % noise\n\n");
  fmt::print("| photograph | rendering | before, px |");
  for (const double s : ladder) fmt::print(" +{:.1f} px |", s);
  fmt::print("\n|---|---|---|---|---|---|---|---|\n");
  for (const Scene& photograph : photographs) {
    std::vector<Scene> soft;
    for (const double added : ladder) soft.push_back(blurred(photograph, added));
    for (const Rendering& r : kOrdered) {
      const double before = ours(rendered(photograph, r, .01, 1), photograph.region).sigma;
      fmt::print("| {} | {} | {:.2f} |", photograph.name, r.name(), before);
      for (std::size_t k = 0; k < ladder.size(); ++k) {
        const double after = ours(rendered(soft[k], r, .01, 2), photograph.region).sigma;
        fmt::print(" {:.3f} |", std::sqrt(std::max(0.0, after * after - before * before)) / ladder[k]);
      }
      fmt::print("\n");
    }
    std::fflush(stdout);
  }
}

}  // namespace

void print_degraded(unsigned first, int seeds, const std::vector<Scene>& photographs) {
  print_ladder(first, seeds);
  print_added_blur(photographs);
}

void print_degraded_order(unsigned first, int seeds, const std::vector<Scene>& photographs) {
  struct Column {
    double noise;
    bool varies;
  };
  const std::vector<Column> columns{{.02, false}, {.02, true}, {.06, false}, {.06, true}};
  std::vector<std::vector<Share>> close(kOrdered.size(), std::vector<Share>(columns.size())), real = close;
  std::vector<double> steps;
  for (int k = 0; k < 14; ++k) steps.push_back(.7 * std::pow(1.1, k));
  const auto add_scenes = [&](const std::vector<Scene>& scenes, unsigned seed,
                              std::vector<std::vector<Share>>& shares) {
    for (std::size_t r = 0; r < kOrdered.size(); ++r)
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const auto noises = frame_noises(columns[c].noise, columns[c].varies, scenes.size(), seed);
        std::vector<double> sigmas;
        for (std::size_t i = 0; i < scenes.size(); ++i)
          sigmas.push_back(
              ours(rendered(scenes[i], kOrdered[r], noises[i], seed * 131 + static_cast<unsigned>(i)),
                   scenes[i].region)
                  .sigma);
        add_pairs(sigmas, shares[r][c]);
      }
  };
  for (unsigned seed = first; seed < first + static_cast<unsigned>(seeds); ++seed) {
    std::vector<Scene> scenes;
    for (const double s : steps) scenes.push_back(coloured_target(Target::leaves, s, seed));
    add_scenes(scenes, seed, close);
  }
  for (const Scene& photograph : photographs) {
    std::vector<Scene> scenes;
    for (const double s : geometric(.8, 4, 8)) scenes.push_back(blurred(photograph, s));
    add_scenes(scenes, first, real);
  }
  fmt::print("\n### Share of pairs in the right order through colour filter and JPEG\n\n| rendering |");
  for (const char* set : {"close", "photos"})
    for (const Column& c : columns)
      fmt::print(" {}, {:.0f} %{} |", set, c.noise * 100, c.varies ? " x.6-1.6" : "");
  fmt::print("\n|---|---|---|---|---|---|---|---|---|\n");
  for (std::size_t r = 0; r < kOrdered.size(); ++r) {
    fmt::print("| {} |", kOrdered[r].name());
    for (const auto* set : {&close, &real})
      for (const Share& s : (*set)[r]) fmt::print(" {} |", s.text());
    fmt::print("\n");
  }
  fmt::print("| pairs |");
  for (const auto* set : {&close, &real})
    for (const Share& s : (*set)[0]) fmt::print(" {} |", s.pairs);
  fmt::print("\n");
}

}  // namespace burstsieve::compare
