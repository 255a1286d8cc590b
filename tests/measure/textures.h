// Natural textures for the motion tests: dead leaves, 1/f fields, rendered feathers and, where
// tools/test-data.sh has fetched them, real photographs; and exact uniform motion.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/transfer.h"
#include "frame.h"
#include "measure/targets.h"
#include "plan.h"

namespace textures {

struct Texture {
  std::string kind;
  cv::Mat linear;  // CV_32F, scene-linear, sharp (about .7 px)
};

// Gaussian field of spectrum 1/f^slope (amplitude), around .35.
inline cv::Mat fractal(int side, double slope, std::uint64_t seed) {
  cv::Mat noise(side, side, CV_32F), f, out;
  cv::RNG rng(seed);
  rng.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::dft(noise, f, cv::DFT_COMPLEX_OUTPUT);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const double radius = std::max(1.0, std::hypot(std::min(x, side - x), std::min(y, side - y)));
      f.at<cv::Vec2f>(y, x) *= static_cast<float>(std::pow(radius, -slope));
    }
  f.at<cv::Vec2f>(0, 0) = 0;
  cv::idft(f, out, cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
  cv::Scalar mean, deviation;
  cv::meanStdDev(out, mean, deviation);
  out = (out - mean[0]) / deviation[0] * .12 + .35;
  cv::GaussianBlur(out, out, {}, .7);
  return cv::Mat(cv::min(cv::max(out, .02), .98));
}

// Uniform motion over `length` px along `degrees`: the sinc of its Fourier transform, rims mirrored.
inline cv::Mat moved(const cv::Mat& image, double length, double degrees) {
  constexpr int kRim = 48;
  cv::Mat wide, f, out;
  cv::copyMakeBorder(image, wide, kRim, cv::getOptimalDFTSize(image.rows + 2 * kRim) - image.rows - kRim,
                     kRim, cv::getOptimalDFTSize(image.cols + 2 * kRim) - image.cols - kRim,
                     cv::BORDER_REFLECT_101);
  cv::dft(wide, f, cv::DFT_COMPLEX_OUTPUT);
  const double a = degrees * CV_PI / 180;
  for (int y = 0; y < f.rows; ++y)
    for (int x = 0; x < f.cols; ++x) {
      const double v = static_cast<double>(y < f.rows / 2 ? y : y - f.rows) / f.rows,
                   u = static_cast<double>(x < f.cols / 2 ? x : x - f.cols) / f.cols;
      const double q = CV_PI * length * (u * std::cos(a) - v * std::sin(a));
      f.at<cv::Vec2f>(y, x) *= static_cast<float>(std::abs(q) < 1e-9 ? 1 : std::sin(q) / q);
    }
  cv::idft(f, out, cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
  return out(cv::Rect(kRim, kRim, image.cols, image.rows)).clone();
}

// A defocus disc of this diameter, its rim antialiased.
inline cv::Mat defocused(const cv::Mat& image, double diameter) {
  const int reach = static_cast<int>(std::ceil(diameter / 2)) + 1, side = 2 * reach + 1;
  cv::Mat kernel(side, side, CV_32F), out;
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x)
      kernel.at<float>(y, x) =
          static_cast<float>(std::clamp(diameter / 2 + .5 - std::hypot(x - reach, y - reach), 0.0, 1.0));
  kernel /= cv::sum(kernel)[0];
  cv::filter2D(image, out, CV_32F, kernel, {-1, -1}, 0, cv::BORDER_REFLECT_101);
  return out;
}

// The square of `side` px with the most detail.
inline cv::Mat most_detailed(const cv::Mat& light, int side) {
  cv::Mat codes, activity;
  light.convertTo(codes, CV_8U, 255);
  cv::sqrt(burstsieve::image::activity_map(codes), activity);
  double best = -1;
  cv::Point at(0, 0);
  for (int y = 0; y + side <= light.rows; y += 64)
    for (int x = 0; x + side <= light.cols; x += 64) {
      const double v = cv::mean(activity(cv::Rect(x / 16, y / 16, side / 16, side / 16)))[0];
      if (v > best) best = v, at = {x, y};
    }
  return light(cv::Rect(at.x, at.y, side, side)).clone();
}

// Plumage of a rendered bird, large enough to fill the picture.
inline cv::Mat feathers(int side, std::uint64_t seed) {
  using namespace burstsieve::generate;
  const auto bursts = plan({"faults", 0, 0, 0, 0, seed, Format::jpeg, false, false});
  BurstSpec burst = bursts[seed % bursts.size()];
  FrameSpec frame = burst.frames.front();
  burst.size = {2 * side, 2 * side};
  burst.orientation = 1;
  burst.reeds = 0;
  frame.at = {.5, .5};
  frame.scale = 2.2 * side;
  frame.lens_sigma = .65;
  const RenderedFrame rendered = render_frame(burst, frame);
  cv::Mat grey;
  cv::cvtColor(rendered.light, grey, cv::COLOR_BGR2GRAY);
  return most_detailed(cv::min(grey, 1.0), side);
}

// Below the cache of tools/test-data.sh. Sharp at full size, or at the size they are halved to.
inline const std::vector<std::string> kHeldOutPhotographs{
    "lomiri-wallpapers-20.04/usr/share/backgrounds/Kleiber_by_Lukas_Baubkus.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/Dragonfly_by_Bolly.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/seeding_by_Clements_Engelhardt.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/friends_by_Aitzol_Berasategi.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/life_by_Aitzol_Berasategi.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/Wood.jpg",
    "exif/test/sony-alpha-6000.jpg",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/grass.png",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/gravel.png",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/chelsea.png",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/coffee.png",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/camera.png",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/motorcycle_left.png"};
inline const std::vector<std::string> kTuningPhotographs{
    "lomiri-wallpapers-16.04/usr/share/backgrounds/greentock_by_Peter_Nerlich.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/aitzgorri_by_Aitzol_Berasategi.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/sunset_by_Aitzol_Berasategi.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/free_by_Peter_Nerlich.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/picosdeeuropa_by_Aitzol_Berasategi.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/umang_by_Abhishek_Mudgal.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/Picture_0B_by_freespace.jpg",
    "lomiri-wallpapers-16.04/usr/share/backgrounds/Bridge_by_Sander_Klootwijk.jpg",
    "lomiri-wallpapers-20.04/usr/share/backgrounds/Fossa_by_Jasper_Roks.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/TwoWings.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/LadyBird.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/YellowFlower.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/GreenMeadow.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/RainDrops.jpg",
    "mate-backgrounds/usr/share/backgrounds/mate/nature/Dune.jpg",
    "python3-skimage/usr/lib/python3/dist-packages/skimage/data/astronaut.png"};

// The most detailed square of each photograph that is there, scene-linear; halved until its pixels are sharp.
inline std::vector<Texture> photographs(int side,
                                        const std::vector<std::string>& names = kHeldOutPhotographs) {
  std::vector<Texture> out;
  const char* home = std::getenv("HOME");
  if (!home) return out;
  const std::string root = std::string(home) + "/.cache/burstsieve-test-data/";
  for (const std::string& name : names) {
    const cv::Mat encoded = cv::imread(root + name, cv::IMREAD_GRAYSCALE);
    if (encoded.empty()) continue;
    cv::Mat light = burstsieve::image::linear(encoded);
    while (light.cols > 2600)
      cv::resize(light, light, {light.cols / 2, light.rows / 2}, 0, 0, cv::INTER_AREA);
    while (std::min(light.cols, light.rows) < side)  // small ones are continued by their mirror image
      cv::copyMakeBorder(light, light, 0, light.rows - 1, 0, light.cols - 1, cv::BORDER_REFLECT_101);
    out.push_back({"photograph", most_detailed(light, side)});
  }
  return out;
}

inline std::vector<Texture> synthetic(int side, int each, unsigned first_seed = 11) {
  std::vector<Texture> out;
  for (int i = 0; i < each; ++i) {
    const auto seed = first_seed + 13 * static_cast<unsigned>(i);
    out.push_back({"leaves", targets::leaves(side, .7, seed)});
    out.push_back({"1/f", fractal(side, 1 + .15 * i, seed)});
    out.push_back({"feathers", feathers(side, (seed - 11) / 13 * 2 + 1)});
  }
  return out;
}

// Turned and mirrored: eight pictures of one.
inline cv::Mat turned(const cv::Mat& image, unsigned way) {
  cv::Mat out = image;
  if (way & 1) cv::flip(out, out, 1);
  if (way & 2) cv::flip(out, out, 0);
  if (way & 4) out = out.t();
  return out.clone();
}

}  // namespace textures
