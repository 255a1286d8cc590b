#include "backdrop.h"

#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "geometry.h"
#include "random.h"

namespace burstsieve::generate {
namespace {

// Fractal noise; amplitude halves as frequency doubles. Octaves finer than two samples are left out.
struct Fractal {
  double samples_per_unit;
  double operator()(double x, double y, double frequency, std::uint32_t seed, double stretch_y = 1) const {
    double sum = 0, gain = 1;
    for (std::uint32_t i = 0; i < 10; ++i) {
      if (frequency * std::max(1.0, stretch_y) > .5 * samples_per_unit) break;
      sum +=
          gain * static_cast<double>(noise2(static_cast<float>(x * frequency),
                                            static_cast<float>(y * frequency * stretch_y), seed + i * 131u));
      frequency *= 2.07;
      gain *= .53;
    }
    return sum;
  }
};

V3 water(const Fractal& f, double x, double y, double horizon, std::uint32_t seed, V3 deep, V3 sky,
         double glints) {
  const double far = 1 / std::max(.18, y - horizon + .25);  // waves crowd together towards the horizon
  const double warp = .10 * f(x, y, 2.5, seed + 5u, 2);
  const double wave = f(x + warp, y * far * .6, 2.2 * far * .55, seed, 4.5);
  const double fine = f(x + .5 * warp, y * far * .6, 14 * far * .5, seed + 900u, 3.5);
  const double slope = .5 + .42 * wave + .22 * fine;
  V3 c = mix(deep, sky, smooth(.05, 1.05, slope));
  const auto glitter =
      static_cast<double>(noise2(static_cast<float>(x * 34), static_cast<float>(y * 60), seed + 7u));
  const double spark = .3 * wave + .5 * fine + .75 * glitter;
  if (glints > 0) c = c + glints * smooth(.78, 1.15, spark) * V3{1.5, 1.42, 1.28};
  return c;
}

// The ground between the blades; the blades themselves are drawn by render_reeds.
V3 grass(const Fractal& f, double x, double y, std::uint32_t seed) {
  const double clump = f(x, y, 2.2, seed + 40u, 1.3);
  const double fine = f(x * 18, y * 2, 2.0, seed + 77u, .4);
  const double level = std::clamp(.40 + .32 * clump + .14 * fine, 0.0, 1.0);
  return mix({.040, .048, .020}, {.27, .255, .095}, level);
}

V3 stone(const Fractal& f, double x, double y, std::uint32_t seed) {
  const double row_height = .17;
  const auto row = static_cast<std::int32_t>(std::floor(y / row_height));
  const double width = .30 + .05 * static_cast<double>(lattice(row, 3, seed));
  const double along = x / width + .5 * (row & 1) + .2 * static_cast<double>(lattice(row, 9, seed));
  const auto block = static_cast<std::int32_t>(std::floor(along));
  const double u = along - std::floor(along), v = y / row_height - std::floor(y / row_height);
  const double wobble = .012 * f(x, y, 9, seed + 8u);
  const double joint = std::min(std::min(u, 1 - u) * width, std::min(v, 1 - v) * row_height) + wobble;
  const double tone = .17 + .06 * static_cast<double>(lattice(block, row, seed + 5u));
  V3 c = (tone * (1 + .45 * f(x, y, 7, seed + 20u))) * V3{1.02, .97, .88};
  c = mix({.035, .034, .030}, c, smooth(.002, .016, joint));
  c = mix(c, V3{.06, .085, .03},
          .7 * smooth(.1, .8, f(x, y, 3, seed + 60u) + (y - .55)));  // weed near the water
  return c;
}

V3 piling(const Fractal& f, V3 behind, double x, double y, std::uint32_t seed) {
  const double pitch = .62;
  const double at = x / pitch - std::floor(x / pitch);
  const auto index = static_cast<std::int32_t>(std::floor(x / pitch));
  const double centre = .5 + .18 * static_cast<double>(lattice(index, 1, seed)),
               half = .055 + .02 * static_cast<double>(lattice(index, 2, seed));
  const double t = (at - centre) * pitch / half;
  if (std::abs(t) > 1 || y < .05 + .1 * static_cast<double>(lattice(index, 4, seed))) return behind;
  const double round = std::sqrt(1 - t * t);
  const double grain = f(x * 7, y, 3, seed + 11u, .3);
  return (.35 + .75 * round - .3 * t) * (1 + .45 * grain) * V3{.105, .085, .065};
}

V3 clouds(const Fractal& f, double x, double y, std::uint32_t seed) {
  const double cover = smooth(-.15, .8, f(x + .1 * f(x, y, 2, seed + 4u), y, 1.1, seed, 1.7));
  return mix(mix(V3{.16, .27, .47}, V3{.36, .45, .56}, std::clamp(y, 0.0, 1.0)), V3{.60, .61, .62},
             .8 * cover);
}

V3 sample(Scene scene, const Fractal& f, double x, double y, double screen_y, std::uint32_t seed) {
  switch (scene) {
    case Scene::harbour_water:
      return water(f, x, y, -.2, seed, {.018, .045, .055}, {.23, .30, .35}, .55);
    case Scene::harbour_wall: {
      const double line = .68 + .012 * f(x, y, 3, seed + 2u);
      if (y > line) return .8 * water(f, x, y, .45, seed, {.016, .032, .034}, {.16, .19, .19}, .3);
      return piling(f, stone(f, x, y, seed), x, y, seed + 100u);
    }
    case Scene::marsh_grass:
      return grass(f, x, y, seed);
    case Scene::marsh_water: {
      const double shore = .30 + .035 * f(x, 0, 2, seed + 2u);
      if (y < shore) return mix(grass(f, x * 1.5, y * 1.5, seed), {.30, .33, .34}, .15);
      return water(f, x, y, .2, seed, {.05, .062, .05}, {.27, .31, .33}, .12);
    }
    case Scene::sky:
      return clouds(f, x, .5 * y + .5 * screen_y, seed);
  }
  return {};
}

// Rows rendered at 1/step of the size, blurred by what is left, and enlarged.
int step_for(double blur_sigma) {
  return std::clamp(static_cast<int>(blur_sigma / 2), 1, 12);
}

template <class Image>
Image finish(Image small, cv::Size size, double blur_sigma, int step) {
  if (blur_sigma > .2) {
    const double sigma = blur_sigma / step;
    cv::GaussianBlur(small, small, cv::Size(), sigma, sigma, cv::BORDER_REFLECT);
  }
  if (small.size() == size) return small;
  Image full;
  cv::resize(small, full, size, 0, 0, step >= 3 ? cv::INTER_LINEAR : cv::INTER_CUBIC);
  return full;
}

}  // namespace

namespace {

struct Blades {
  int density;        // per frame width
  double root, tall;  // frame heights: where they stand, counted from the lower edge; how long
  double half;        // frame heights
  double light;       // further ones stand in the shade of the nearer
};

void draw_blades(cv::Mat4f& small, double aspect, double unit_px, double shift_x, const Blades& b,
                 std::uint32_t seed) {
  // Each blade belongs to a place of the scene, so that it stays itself while the view moves.
  const double spacing = aspect / b.density;
  const int first = static_cast<int>(std::floor((shift_x - .3) / spacing)),
            last = first + static_cast<int>((aspect + .6) / spacing) + 1;
  for (int k = first; k <= last; ++k) {
    Random r(derive(seed, static_cast<std::uint64_t>(k + 1000000)));
    const double root = (k + r.uniform()) * spacing - shift_x;
    const double tall = b.tall * r.uniform(.55, 1.1), lean = r.uniform(-.25, .25), bow = r.uniform(-.3, .3),
                 half = b.half * r.uniform(.6, 1.4);
    const double stand = b.root + .04 * r.uniform(-1, 1);
    const V3 colour = b.light * mix(V3{.11, .14, .04}, V3{.46, .37, .17}, r.uniform());
    const auto grain = static_cast<std::uint32_t>(r.bits() >> 40);
    const int top = static_cast<int>((1 - stand - tall) * unit_px),
              low = static_cast<int>((1 - stand) * unit_px);
    for (int y = std::max(0, top); y < std::min(small.rows, low + 1); ++y) {
      const double up = 1 - stand - (y + .5) / unit_px, s = up / tall;
      if (s >= 1 || s < 0) continue;
      const double ideal = half * (1 - s * s) * unit_px, w = std::max(.5, ideal);
      const double x0 = (root + lean * up + bow * up * up) * unit_px;
      for (int x = std::max(0, static_cast<int>(x0 - w - 1));
           x <= std::min(small.cols - 1, static_cast<int>(x0 + w + 1)); ++x) {
        const double t = std::clamp((x + .5 - x0) / w, -1.2, 1.2);
        const double cover = std::clamp((1 - std::abs(t)) * w + .5, 0.0, 1.0) * std::min(1.0, ideal / w);
        if (cover <= 0) continue;
        const double rib = noise2(static_cast<float>(t * 4), static_cast<float>(s * 6), grain) +
                           noise2(static_cast<float>(t * 9), static_cast<float>(s * 40), grain + 1u);
        const V3 c = ((.75 - .35 * t) * (1 + .18 * rib)) * colour;
        const auto a = static_cast<float>(cover);
        cv::Vec4f& to = small(y, x);
        to = to * (1 - a) + cv::Vec4f(static_cast<float>(c.x) * a, static_cast<float>(c.y) * a,
                                      static_cast<float>(c.z) * a, a);
      }
    }
  }
}

}  // namespace

namespace {

// Rows of blades from far to near.
void add_grass(cv::Mat3f& picture, Scene scene, double shift_x, double unit_px, std::uint32_t seed) {
  cv::Mat4f blades(picture.size(), cv::Vec4f(0, 0, 0, 0));
  const bool bank = scene == Scene::marsh_water;  // only beyond the water
  const int rows = bank ? 3 : 7;
  for (int i = 0; i < rows; ++i) {
    const double near = (i + 1.0) / rows;
    const double root = bank ? .80 - .075 * i : .78 - .14 * i;
    draw_blades(blades, picture.cols / unit_px, unit_px, shift_x,
                {static_cast<int>(mix(190, 90, near)), root, bank ? .15 : mix(.22, .36, near),
                 mix(.0022, .0050, near), mix(.7, 1.05, near)},
                seed + 500u + static_cast<std::uint32_t>(i));
  }
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      const cv::Vec4f& b = blades(y, x);
      cv::Vec3f& p = picture(y, x);
      p = p * (1 - b[3]) + cv::Vec3f(b[0], b[1], b[2]);
    }
  }
}

}  // namespace

cv::Mat3f render_backdrop(Scene scene, cv::Size size, double shift_x, double shift_y, double blur_sigma,
                          std::uint32_t seed) {
  const int step = step_for(blur_sigma);
  cv::Mat3f small((size.height + step - 1) / step, (size.width + step - 1) / step);
  const Fractal f{static_cast<double>(size.height) / step};
  cv::parallel_for_(cv::Range(0, small.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      const double sy = (y + .5) * step / size.height;
      for (int x = 0; x < small.cols; ++x) {
        const V3 c = sample(scene, f, (x + .5) * step / size.height + shift_x, sy + shift_y, sy, seed);
        small(y, x) = {static_cast<float>(std::max(.004, c.x)), static_cast<float>(std::max(.004, c.y)),
                       static_cast<float>(std::max(.004, c.z))};
      }
    }
  });
  if (scene == Scene::marsh_grass || scene == Scene::marsh_water)
    add_grass(small, scene, shift_x, static_cast<double>(size.height) / step, seed);
  return finish(small, size, blur_sigma, step);
}

cv::Mat4f render_reeds(cv::Size size, double shift_x, double blur_sigma, int density, double height,
                       std::uint32_t seed, double root) {
  const int step = step_for(blur_sigma);
  cv::Mat4f small((size.height + step - 1) / step, (size.width + step - 1) / step, cv::Vec4f(0, 0, 0, 0));
  const double aspect = static_cast<double>(size.width) / size.height;
  draw_blades(small, aspect, static_cast<double>(size.height) / step, shift_x,
              {density, root, height, .007, 1}, seed);
  return finish(small, size, blur_sigma, step);
}

}  // namespace burstsieve::generate
