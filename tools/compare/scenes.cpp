#include "scenes.h"

#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "burstsieve/image/transfer.h"
#include "measure/targets.h"

namespace burstsieve::compare {
namespace {

constexpr int kSide = 384;
const Region kInner{.1, .05, .8, .4};

cv::Mat over_sky(const cv::Mat& target) {
  cv::Mat sky(target.size(), target.type()), out;
  for (int x = 0; x < sky.cols; ++x)
    sky.col(x) = cv::Scalar::all(.1 + .5 * static_cast<double>(x) / sky.cols);
  cv::vconcat(target, sky, out);
  return out;
}

// B, G, R around 1 that leave the luma (of linear light, Rec. 709 weights) near what it was.
cv::Scalar tint(std::mt19937& rng) {
  const auto part = [&] { return .7 + .6 * (static_cast<double>(rng()) + .5) / 4294967296.0; };
  const double b = part(), g = part(), r = part(), luma = .0722 * b + .7152 * g + .2126 * r;
  return {b / luma, g / luma, r / luma};
}

// The geometry of targets::leaves; levels a little lower, so that no channel clips.
cv::Mat coloured_leaves(int side, double sigma, unsigned seed) {
  constexpr int kOver = 4;
  const int n = side * kOver;
  std::mt19937 rng(seed), tints(seed ^ 0x51ed27u);
  const auto uniform = [&] { return (static_cast<double>(rng()) + .5) / 4294967296.0; };
  cv::Mat big(n, n, CV_32FC3, cv::Scalar::all(.3)), out;
  const double r0 = 4.0 * kOver, r1 = 60.0 * kOver;
  for (int i = 0; i < 6000; ++i) {
    const double u = uniform();
    const double r = 1 / std::sqrt(1 / (r0 * r0) - u * (1 / (r0 * r0) - 1 / (r1 * r1)));
    const double at_x = uniform(), at_y = uniform(), level = .05 + .55 * uniform();
    cv::circle(big, {static_cast<int>(at_x * n), static_cast<int>(at_y * n)}, static_cast<int>(r),
               level * tint(tints), cv::FILLED);
  }
  cv::GaussianBlur(big, big, {}, sigma * kOver, sigma * kOver, cv::BORDER_REFLECT_101);
  cv::resize(big, out, {side, side}, 0, 0, cv::INTER_AREA);
  return out;
}

cv::Mat coloured_edge(int side, double sigma, unsigned seed) {
  std::mt19937 tints(seed);
  const cv::Scalar dark = .1 * tint(tints), bright = .5 * tint(tints);
  const cv::Mat step = targets::edge(side, sigma, 13.0 * seed, 0, 1);
  std::vector<cv::Mat> planes;
  for (int c = 0; c < 3; ++c) planes.push_back(step * (bright[c] - dark[c]) + dark[c]);
  cv::Mat out;
  cv::merge(planes, out);
  return out;
}

cv::Mat luma_of(const cv::Mat& colour) {
  cv::Mat out;
  cv::transform(colour, out, cv::Matx13f(.0722f, .7152f, .2126f));
  return out;
}

struct Photograph {
  const char* name;
  const char* package;
  const char* path;
  cv::Rect cut;     // of the picture; empty: all of it
  cv::Rect region;  // of the cut; empty: its inner nine tenths
};

// The nuthatch's eye, beak and cheek, with enough around them to see the noise; drawn by eye.
const Photograph kPhotographs[] = {
    {"nuthatch's eye",
     "lomiri-wallpapers-20.04",
     "usr/share/backgrounds/Kleiber_by_Lukas_Baubkus.jpg",
     {2560, 1600, 1024, 1024},
     {320, 330, 360, 270}},
    {"stereo motorcycle",
     "python3-skimage",
     "usr/lib/python3/dist-packages/skimage/data/motorcycle_left.png",
     {},
     {}},
    {"grass", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/grass.png", {}, {}},
    {"gravel", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/gravel.png", {}, {}},
    {"camera", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/camera.png", {}, {}},
    {"china", "python3-sklearn", "usr/lib/python3/dist-packages/sklearn/datasets/images/china.jpg", {}, {}},
    {"brick", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/brick.png", {}, {}},
    {"coffee", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/coffee.png", {}, {}},
    // Held out: looked at for the last time in docs/measures.md, never tuned on.
    {"cat (held out)", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/chelsea.png", {}, {}},
    {"coins (held out)", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/coins.png", {}, {}},
    {"rocket (held out)", "python3-skimage", "usr/lib/python3/dist-packages/skimage/data/rocket.jpg", {}, {}},
    {"flower (held out)",
     "python3-sklearn",
     "usr/lib/python3/dist-packages/sklearn/datasets/images/flower.jpg",
     {},
     {}},
};

cv::Mat found(const Photograph& p, const std::string& cache) {
  for (const std::string& path : {cache + "/" + p.package + "/" + p.path, std::string("/") + p.path})
    if (std::filesystem::exists(path)) return cv::imread(path, cv::IMREAD_COLOR);
  return {};
}

// Scene-linear, channel by channel; empty for a grey picture.
cv::Mat linear_colour(const cv::Mat& picture) {
  std::vector<cv::Mat> planes, out(3);
  cv::split(picture, planes);
  if (cv::norm(planes[0], planes[2], cv::NORM_INF) < 1) return {};
  for (std::size_t c = 0; c < 3; ++c) out[c] = image::linear(planes[c]);
  cv::Mat merged;
  cv::merge(out, merged);
  return merged;
}

}  // namespace

Scene target(Target kind, double sigma, unsigned seed) {
  const bool leaves = kind == Target::leaves;
  return {leaves ? "dead leaves" : "step edge",
          over_sky(leaves ? targets::leaves(kSide, sigma, seed) : targets::edge(kSide, sigma, 13.0 * seed)),
          kInner,
          {}};
}

Scene coloured_target(Target kind, double sigma, unsigned seed) {
  const bool leaves = kind == Target::leaves;
  const cv::Mat colour =
      over_sky(leaves ? coloured_leaves(kSide, sigma, seed) : coloured_edge(kSide, sigma, seed));
  return {leaves ? "dead leaves" : "step edge", luma_of(colour), kInner, colour};
}

std::vector<Scene> photographs(const std::string& cache) {
  std::vector<Scene> out;
  for (const Photograph& p : kPhotographs) {
    cv::Mat picture = found(p, cache);
    if (picture.empty()) continue;
    if (!p.cut.empty()) picture = picture(p.cut).clone();
    const double w = picture.cols, h = picture.rows;
    const Region region =
        p.region.empty() ? Region{.05, .05, .9, .9}
                         : Region{p.region.x / w, p.region.y / h, p.region.width / w, p.region.height / h};
    cv::Mat grey;
    cv::cvtColor(picture, grey, cv::COLOR_BGR2GRAY);
    out.push_back({p.name, image::linear(grey), region, linear_colour(picture)});
  }
  return out;
}

Scene blurred(const Scene& scene, double sigma) {
  Scene out{scene.name, scene.linear.clone(), scene.region, scene.colour.clone()};
  if (sigma > 0) cv::GaussianBlur(scene.linear, out.linear, {}, sigma, sigma, cv::BORDER_REFLECT_101);
  if (sigma > 0 && !scene.colour.empty())
    cv::GaussianBlur(scene.colour, out.colour, {}, sigma, sigma, cv::BORDER_REFLECT_101);
  return out;
}

cv::Mat developed(const Scene& scene, double noise, unsigned seed, double gain) {
  const double variance = noise * noise;
  return targets::developed(scene.linear, .9 * variance / .3, .1 * variance, seed, gain);
}

}  // namespace burstsieve::compare
