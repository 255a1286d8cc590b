#include "cases.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>

#include "rendering.h"

namespace burstsieve::compare {
namespace {

class Draw {
 public:
  explicit Draw(std::uint64_t number) : rng_(static_cast<unsigned>(number * 2654435761u ^ (number >> 20))) {}
  double part() { return (static_cast<double>(rng_()) + .5) / 4294967296.0; }
  double geometric(double low, double high) { return low * std::pow(high / low, part()); }
  int below(int n) { return std::min(n - 1, static_cast<int>(part() * n)); }
  unsigned seed() { return static_cast<unsigned>(rng_() % 1'000'000); }

 private:
  std::mt19937 rng_;
};

// Towards its mean brightness, as haze and soft light do; the sky as well.
void flatten(Scene& scene, double contrast) {
  for (cv::Mat* m : {&scene.linear, &scene.colour})
    if (!m->empty()) *m = *m * contrast + cv::Scalar::all(.3 * (1 - contrast));
}

void without_sky(Scene& scene) {
  const auto upper = [](cv::Mat& m) { m = m.rowRange(0, m.rows / 2).clone(); };
  upper(scene.linear);
  upper(scene.colour);
  scene.region = {.1, .1, .8, .8};
}

}  // namespace

Case blur_case(std::uint64_t number) {
  Draw draw(number);
  Case out;
  const double sigma = draw.geometric(.5, 5);
  const Target kind = draw.part() < .3 ? Target::edge : Target::leaves;
  Scene scene = coloured_target(kind, sigma, draw.seed());
  const double contrast = draw.geometric(.1, 1);
  flatten(scene, contrast);
  const bool bare = draw.part() < .25;
  if (bare) without_sky(scene);
  // A small bird: a fifth of the target's side.
  const double size = draw.geometric(.15, 1), at_x = draw.part(), at_y = draw.part();
  Region& r = scene.region;
  r = {r.x + at_x * r.w * (1 - size), r.y + at_y * r.h * (1 - size), r.w * size, r.h * size};
  // A straight edge runs through the middle only.
  if (kind == Target::edge) r.x = .5 - r.w / 2, r.y = (bare ? .5 : .25) - r.h / 2;
  const Rendering renderings[] = {{},
                                  {Mosaic::none, 80 + draw.below(19), false},
                                  {Mosaic::bilinear, 92, false},
                                  {Mosaic::edge_aware, 92, false}};
  const Rendering& rendering = renderings[draw.below(4)];
  out.noise = draw.part() < .1 ? 0 : draw.geometric(.002, .08);
  out.luma = rendered(scene, rendering, out.noise, draw.seed());
  out.region = scene.region;
  out.sigma = std::sqrt(sigma * sigma + demosaic_variance(rendering.mosaic));
  out.what = scene.name + (bare ? ", no sky, " : ", ") + rendering.name();
  return out;
}

}  // namespace burstsieve::compare
