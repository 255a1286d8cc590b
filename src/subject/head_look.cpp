#include "head_look.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "burstsieve/subject/head.h"
#include "burstsieve/subject/radial_symmetry.h"

namespace burstsieve::subject {
namespace {

constexpr std::array<int, 6> kEyeRadii{2, 3, 4, 5, 7, 10};
// An eye's radius as a share of the head's: a quarter to a sixth (measured by eye on a dozen photographs; the
// rendered birds have .20 to .26).
constexpr double kEyeShare = .22;
constexpr int kEyeReach = 4;  // .65 head radii, level px

float sample(const cv::Mat& m, double x, double y, float outside) {
  const int ix = static_cast<int>(std::floor(x)), iy = static_cast<int>(std::floor(y));
  if (ix < 0 || iy < 0 || ix >= m.cols || iy >= m.rows) return outside;
  return m.at<float>(iy, ix);
}

// How much the texture runs in one direction, 0..1, over about `sigma` px.
cv::Mat alignment(const cv::Mat& dx, const cv::Mat& dy, double sigma) {
  cv::Mat xx = dx.mul(dx), yy = dy.mul(dy), xy = dx.mul(dy);
  for (cv::Mat* m : {&xx, &yy, &xy}) cv::GaussianBlur(*m, *m, {}, sigma);
  cv::Mat out(dx.size(), CV_32F);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) {
      const float a = xx.at<float>(y, x), b = yy.at<float>(y, x), c = xy.at<float>(y, x);
      out.at<float>(y, x) = std::sqrt((a - b) * (a - b) + 4 * c * c) / (a + b + 1e-6f);
    }
  return out;
}

struct Colours {
  cv::Mat light, warmth, saturation;
};

Colours colours_of(const cv::Mat& bgr) {
  Colours out;
  for (cv::Mat* m : {&out.light, &out.warmth, &out.saturation}) m->create(bgr.size(), CV_32F);
  for (int y = 0; y < bgr.rows; ++y)
    for (int x = 0; x < bgr.cols; ++x) {
      const auto& p = bgr.at<cv::Vec3b>(y, x);
      const auto b = static_cast<float>(p[0]), g = static_cast<float>(p[1]), r = static_cast<float>(p[2]);
      out.light.at<float>(y, x) = (.114f * b + .587f * g + .299f * r) / 255;
      out.warmth.at<float>(y, x) = (r - b) / (r + g + b + 30);
      out.saturation.at<float>(y, x) =
          (std::max({r, g, b}) - std::min({r, g, b})) / (std::max({r, g, b}) + 20);
    }
  return out;
}

cv::Mat scaled(const cv::Mat& m, cv::Size size) {
  cv::Mat out;
  cv::resize(m, out, size, 0, 0, cv::INTER_AREA);
  return out;
}

}  // namespace

HeadLook::HeadLook(const cv::Mat& picture, const cv::Mat& mask) {
  if (picture.type() != CV_8UC3 || mask.type() != CV_8U || mask.size() != picture.size()) return;
  if (std::min(picture.cols, picture.rows) < 24) return;
  enlarged_ = std::clamp(static_cast<double>(kHeadSide) / std::max(picture.cols, picture.rows), 1.0, 2.0);
  cv::Mat bgr = picture, animal = mask;
  if (enlarged_ > 1.02) {
    cv::resize(picture, bgr, {}, enlarged_, enlarged_, cv::INTER_CUBIC);
    cv::resize(mask, animal, bgr.size(), 0, 0, cv::INTER_LINEAR);
  } else {
    enlarged_ = 1;
  }
  size_ = bgr.size();
  animal = animal > 127;
  const int area = cv::countNonZero(animal);
  if (area < 150) return;
  root_area_ = std::sqrt(static_cast<double>(area));

  cv::Mat framed, depth;
  cv::copyMakeBorder(animal, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(framed, depth, cv::DIST_L2, 3, CV_32F);
  depth = depth(cv::Rect(1, 1, bgr.cols, bgr.rows)).clone();
  double weight = 0;
  for (int y = 0; y < depth.rows; ++y)
    for (int x = 0; x < depth.cols; ++x) {
      const double d = depth.at<float>(y, x);
      weight += d * d, core_.x += d * d * x, core_.y += d * d * y, depth_ = std::max(depth_, d);
    }
  core_ *= 1 / weight;

  Colours c = colours_of(bgr);
  cv::Scalar mean, dev;
  cv::meanStdDev(c.light, mean, dev, animal);
  contrast_ = dev[0];
  const double unit = std::max(dev[0], .02);
  cv::Mat dx, dy, gradient;
  cv::Sobel(c.light, dx, CV_32F, 1, 0, 3, .125);
  cv::Sobel(c.light, dy, CV_32F, 0, 1, 3, .125);
  cv::magnitude(dx, dy, gradient);
  const double mean_gradient = std::max(cv::mean(gradient, animal)[0], 1e-4);
  detail_ = mean_gradient / unit;

  std::array<cv::Mat, kEyeRadii.size()> eyes;
  for (std::size_t i = 0; i < eyes.size(); ++i)
    eyes[i] = dark_symmetry(c.light, kEyeRadii[i], static_cast<float>(.25 * mean_gradient)) / unit;
  const cv::Mat lit = (c.light - mean[0]) / unit;
  const cv::Mat steep = gradient / mean_gradient;
  cv::Mat on;
  animal.convertTo(on, CV_32F, 1 / 255.0);
  const double warm = cv::mean(c.warmth, animal)[0];

  for (std::size_t s = 0; s < levels_.size(); ++s) {
    Level& level = levels_[s];
    level.shrink = kLookRadius / kHeadRadii[s];
    const cv::Size size(std::max(1, cvRound(bgr.cols * level.shrink)),
                        std::max(1, cvRound(bgr.rows * level.shrink)));
    level.fine = {scaled(lit, size),          scaled(c.warmth - warm, size),
                  scaled(c.saturation, size), scaled(steep, size),
                  scaled(on, size),           {}};
    cv::Mat lx, ly;
    cv::Sobel(level.fine[0], lx, CV_32F, 1, 0);
    cv::Sobel(level.fine[0], ly, CV_32F, 0, 1);
    level.fine[5] = alignment(lx, ly, 2.0);
    cv::log(level.fine[3] + .2, level.fine[3]);
    level.fine[0] = cv::min(cv::max(level.fine[0], -2.5), 2.5);
    for (std::size_t i = 0; i < kChannels; ++i) cv::GaussianBlur(level.fine[i], level.coarse[i], {}, 2);
    level.depth = scaled(depth, size) * level.shrink;
    // The two nearest radii, and the strongest within two thirds of a level pixel: points must not be lost.
    const double wanted = kEyeShare * kHeadRadii[s];
    std::array<std::size_t, kEyeRadii.size()> order{0, 1, 2, 3, 4, 5};
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return std::abs(std::log(kEyeRadii[a] / wanted)) < std::abs(std::log(kEyeRadii[b] / wanted));
    });
    cv::Mat eye = cv::max(eyes[order[0]], eyes[order[1]]);
    const int reach = std::max(1, cvRound(.7 / level.shrink));
    cv::dilate(eye, eye, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
    cv::resize(eye, level.eye, size, 0, 0, cv::INTER_NEAREST);
    cv::dilate(level.eye, level.eye_near,
               cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kEyeReach + 1, 2 * kEyeReach + 1}));
  }
  aligned_ = cv::mean(levels_[1].fine[5], levels_[1].fine[4] > .5)[0];
  usable_ = true;
}

std::vector<HeadLook::Place> HeadLook::places() const {
  std::vector<Place> out;
  for (std::size_t s = 0; s < levels_.size() && usable_; ++s) {
    if (kHeadRadii[s] > .5 * root_area_ || kHeadRadii[s] < .055 * root_area_) continue;
    const cv::Mat& near = levels_[s].coarse[4];
    for (int y = 1; y < near.rows; y += 2)
      for (int x = 1; x < near.cols; x += 2)
        if (near.at<float>(y, x) > .3f) out.push_back({s, x, y});
  }
  return out;
}

cv::Point2d HeadLook::in_crop(const Place& p) const {
  const double k = 1 / (levels_[p.scale].shrink * enlarged_);
  return {(p.x + .5) * k, (p.y + .5) * k};
}

cv::Point2d HeadLook::eye_place(const Place& p) const {
  const Level& level = levels_[p.scale];
  cv::Point2d best = in_crop(p);
  float most = -1;
  for (int dy = -kEyeReach; dy <= kEyeReach; ++dy)
    for (int dx = -kEyeReach; dx <= kEyeReach; ++dx) {
      const float v = sample(level.eye, p.x + dx, p.y + dy, 0);
      if (v > most) most = v, best = in_crop({p.scale, p.x + dx, p.y + dy});
    }
  return best;
}

void HeadLook::features(const Place& p, LookFeatures& out) const {
  const Level& level = levels_[p.scale];
  const cv::Point2d at = enlarged_ * in_crop(p), away = at - core_;
  const double far = std::hypot(away.x, away.y);
  const cv::Point2d along = far > 1 ? away * (1 / far) : cv::Point2d(0, -1), across(-along.y, along.x);
  std::size_t n = 0;
  // cos and sin of 0, 45, 90, 135 and 180 degrees.
  constexpr double h = .70710678;
  constexpr std::array<std::array<double, 2>, 5> kWays{{{1, 0}, {h, h}, {0, 1}, {-h, h}, {-1, 0}}};
  const auto ring = [&](const cv::Mat& m, double radius, const std::array<double, 2>& way) {
    const double a = way[0] * radius, b = way[1] * radius;
    const float left =
        sample(m, p.x + .5 + a * along.x + b * across.x, p.y + .5 + a * along.y + b * across.y, 0);
    if (way[1] == 0) return left;
    return .5f * (left +
                  sample(m, p.x + .5 + a * along.x - b * across.x, p.y + .5 + a * along.y - b * across.y, 0));
  };
  for (std::size_t c = 0; c < kChannels; ++c) {
    out[n++] = level.fine[c].at<float>(p.y, p.x);
    for (const double r : kRings)
      for (const auto& way : kWays)
        out[n++] = ring(r < 1.5 ? level.fine[c] : level.coarse[c], r * kLookRadius, way);
  }
  for (const double r : kEyeRings) {
    if (r == 0) {
      out[n++] = level.eye.at<float>(p.y, p.x);
      continue;
    }
    for (const auto& way : kWays) out[n++] = ring(level.eye, r * kLookRadius, way);
  }
  const double radius = kHeadRadii[p.scale];
  const double where = far / root_area_, size = radius / root_area_;
  const double up = far > 1 ? -away.y / far : 0;
  const auto put = [&](double v) { out[n++] = static_cast<float>(v); };
  put(where);
  put(where * where);
  put(std::log(size));
  put(std::log(size) * std::log(size));
  put(level.depth.at<float>(p.y, p.x) / kLookRadius);
  put(radius / depth_);
  put(up);
  put(up * up);
  put(std::abs(away.x) / root_area_);
  put(-away.y / root_area_);
  put(eye_at(p));
  put(std::log(1 + eye_at(p)));
  put(at.y / size_.height);
  put(std::log(static_cast<double>(size_.width) / size_.height));
}

}  // namespace burstsieve::subject
