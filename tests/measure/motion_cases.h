// Frames whose blur is known: a subject of one natural texture before a background of another. What the
// motion measures are tuned on, tested on and calibrated with.
//
//   const auto cases = motion_cases::held_out();
//   for (int i = 0; i < 1000; ++i) use(cases.at(i));
#pragma once
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>
#include <string>
#include <vector>

#include "burstsieve/model/region.h"
#include "burstsieve/rank/motion_kind.h"
#include "measure/textures.h"

namespace motion_cases {

// Every case is a pure function of the set and its number.
struct Case {
  burstsieve::rank::MotionKind kind = burstsieve::rank::MotionKind::sharp;
  cv::Mat luma;            // CV_8U, sRGB curve
  burstsieve::Region box;  // of the subject
  // Streaks, px and degrees (-90, 90], 0 = horizontal, counter-clockwise; 0 px: none.
  double length = 0, degrees = 0;
  double background_length = 0, background_degrees = 0;
  double defocus = 0;   // px, diameter of the disc that blurs the subject; 0: in focus
  double noise = 0;     // standard deviation at .3 of the clip, share of the clip
  std::string texture;  // of the subject
};

struct Set {
  std::vector<textures::Texture> textures;
  unsigned seed = 0;
  double shortest = 5, longest = 40;  // px of the planted streaks, even in the logarithm
  double most_noise = .02;

  Case at(int index) const;
};

// Shot and read noise that together have this standard deviation at .3 of the clip.
inline cv::Mat shot(const cv::Mat& linear, double noise, unsigned seed) {
  return targets::developed(linear, .9 * noise * noise / .3, .1 * noise * noise, seed);
}

inline constexpr int kWidth = 1024, kTexture = 576, kSky = 64, kHeight = kTexture + kSky,
                     kSubject = 288;  // px
inline constexpr int kCrop = 320;     // px, only as much of a photograph as is in focus

namespace detail {

inline cv::Mat disc_mask(double cx, double cy) {
  cv::Mat mask(kHeight, kWidth, CV_32F, cv::Scalar(0));
  cv::ellipse(mask, cv::Point2d(cx, cy), cv::Size(kSubject / 2 - 8, kSubject / 2 - 8), 0, 0, 360,
              cv::Scalar(1), cv::FILLED, cv::LINE_AA);
  return mask;
}

// Every outdoor frame has a quiet place where its noise can be seen. It moves with the background.
inline cv::Mat smooth_sky() {
  cv::Mat sky(kSky, kWidth, CV_32F);
  for (int x = 0; x < kWidth; ++x) sky.col(x) = burstsieve::image::linear_of_srgb(.06 + .88 * x / kWidth);
  return sky;
}

inline cv::Mat tiled(const cv::Mat& t) {
  cv::Mat out;
  cv::copyMakeBorder(t, out, 0, std::max(0, kTexture - t.rows), 0, std::max(0, kWidth - t.cols),
                     cv::BORDER_REFLECT_101);
  out = out(cv::Rect(0, 0, kWidth, kTexture));
  cv::vconcat(out, smooth_sky(), out);
  return out;
}

}  // namespace detail

// The kinds take turns: sharp, subject, camera, both, pan, soft.
inline Case Set::at(int index) const {
  using burstsieve::rank::MotionKind;
  constexpr std::array kKinds{MotionKind::sharp, MotionKind::subject, MotionKind::camera,
                              MotionKind::both,  MotionKind::pan,     MotionKind::soft};
  std::seed_seq sequence{seed, static_cast<unsigned>(index)};
  std::mt19937 rng(sequence);
  const auto uniform = [&](double a, double b) {
    return a + (b - a) * (static_cast<double>(rng()) / 4294967296.0);
  };
  const auto any_length = [&] { return std::exp(uniform(std::log(shortest), std::log(longest))); };

  Case out;
  out.kind = kKinds[static_cast<std::size_t>(index) % kKinds.size()];
  const auto& behind = textures[rng() % textures.size()];
  const auto& front = textures[rng() % textures.size()];
  out.texture = front.kind;
  cv::Mat back = detail::tiled(textures::turned(behind.linear, static_cast<unsigned>(rng() % 8)));
  cv::Mat layer = detail::tiled(textures::turned(front.linear, static_cast<unsigned>(rng() % 8)));
  const double cx = uniform(.45, .55) * kWidth, cy = uniform(.45, .55) * kTexture;
  cv::Mat mask = detail::disc_mask(cx, cy);
  layer = layer.mul(mask);
  const double length = any_length(), degrees = uniform(-90, 90);
  const double other = any_length();
  const double across = std::remainder(degrees + uniform(40, 140), 180);  // not alike: 40 degrees at least
  out.noise = uniform(.002, most_noise);

  const bool moves = out.kind == MotionKind::subject || out.kind == MotionKind::both;
  if (moves) {
    layer = textures::moved(layer, length, degrees);
    mask = textures::moved(mask, length, degrees);
  }
  if (moves || out.kind == MotionKind::camera) out.length = length, out.degrees = degrees;
  if (out.kind == MotionKind::both) {
    back = textures::moved(back, other, across);
    out.background_length = other, out.background_degrees = across;
  }
  if (out.kind == MotionKind::pan) back = textures::moved(back, length, degrees);
  if (out.kind == MotionKind::pan || out.kind == MotionKind::camera)
    out.background_length = length, out.background_degrees = degrees;
  if (out.kind == MotionKind::soft) {
    out.defocus = uniform(9, 16);
    layer = textures::defocused(layer, out.defocus);
    mask = textures::defocused(mask, out.defocus);
  }
  cv::Mat picture = layer + back.mul(1 - mask);
  if (out.kind == MotionKind::camera) picture = textures::moved(picture, length, degrees);
  out.luma = shot(picture, out.noise, static_cast<unsigned>(rng()));
  out.box = {(cx - kSubject / 2.0) / kWidth, (cy - kSubject / 2.0) / picture.rows, double{kSubject} / kWidth,
             double{kSubject} / picture.rows};
  return out;
}

// Constants in src/ may be tuned on this set only. each: pictures of every generated texture.
inline Set tuning(int each = 4, bool with_photographs = true) {
  Set out{textures::synthetic(kTexture, each, 1011), 77};
  if (with_photographs)
    for (auto& t : textures::photographs(kCrop, textures::kTuningPhotographs))
      out.textures.push_back(std::move(t));
  return out;
}

// No texture in common with the tuning set: nothing in src/ was tuned on these.
inline Set held_out(int each = 4, bool with_photographs = true) {
  Set out{textures::synthetic(kTexture, each, 5003), 2024};
  if (with_photographs)
    for (auto& t : textures::photographs(kCrop, textures::kHeldOutPhotographs))
      out.textures.push_back(std::move(t));
  return out;
}

}  // namespace motion_cases
