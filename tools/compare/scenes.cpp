#include "scenes.h"

#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "burstsieve/image/transfer.h"
#include "measure/targets.h"

namespace burstsieve::compare {
namespace {

constexpr int kSide = 384;
const Region kInner{.1, .05, .8, .4};

cv::Mat over_sky(const cv::Mat& target) {
  cv::Mat sky(target.size(), CV_32F), out;
  for (int x = 0; x < sky.cols; ++x)
    sky.col(x) = .1f + .5f * static_cast<float>(x) / static_cast<float>(sky.cols);
  cv::vconcat(target, sky, out);
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
};

cv::Mat found(const Photograph& p, const std::string& cache) {
  for (const std::string& path : {cache + "/" + p.package + "/" + p.path, std::string("/") + p.path})
    if (std::filesystem::exists(path)) return cv::imread(path, cv::IMREAD_GRAYSCALE);
  return {};
}

}  // namespace

Scene target(Target kind, double sigma, unsigned seed) {
  const bool leaves = kind == Target::leaves;
  return {leaves ? "dead leaves" : "step edge",
          over_sky(leaves ? targets::leaves(kSide, sigma, seed) : targets::edge(kSide, sigma, 13.0 * seed)),
          kInner};
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
    out.push_back({p.name, image::linear(picture), region});
  }
  return out;
}

Scene blurred(const Scene& scene, double sigma) {
  Scene out{scene.name, scene.linear.clone(), scene.region};
  if (sigma > 0) cv::GaussianBlur(scene.linear, out.linear, {}, sigma, sigma, cv::BORDER_REFLECT_101);
  return out;
}

cv::Mat developed(const Scene& scene, double noise, unsigned seed, double gain) {
  const double variance = noise * noise;
  return targets::developed(scene.linear, .9 * variance / .3, .1 * variance, seed, gain);
}

}  // namespace burstsieve::compare
