#include "burstsieve/subject/cut_out.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <opencv2/imgproc.hpp>
#include <opencv2/imgproc/detail/gcgraph.hpp>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "look_model.h"

namespace burstsieve::subject {
namespace {

double T(int i, double def) {
  static double v[40];
  static bool have[40], asked[40];
  if (!asked[i]) {
    asked[i] = true;
    const char* e = std::getenv(("T" + std::to_string(i)).c_str());
    have[i] = e != nullptr;
    if (e) v[i] = std::atof(e);
  }
  return have[i] ? v[i] : def;
}

constexpr int kCutSide = 128;

struct CutScene {
  cv::Mat3b bgr;
  cv::Mat1f detail;  // mean squared first difference, codes^2
  cv::Rect2d box;    // in cells
  Region where;
  double quiet = 0;
};

Region with_rim(const Region& box, double width, double height) {
  const double rim = T(0, .2) * std::max(box.w * width, box.h * height);
  const double rx = rim / width, ry = rim / height;
  return clamped({box.x - rx, box.y - ry, box.w + 2 * rx, box.h + 2 * ry});
}

cv::Mat1f differences_squared(const cv::Mat& luma) {
  cv::Mat1f out(luma.size(), 0.f);
  for (int y = 0; y + 1 < luma.rows; ++y) {
    const auto* a = luma.ptr<std::uint8_t>(y);
    const auto* b = luma.ptr<std::uint8_t>(y + 1);
    float* to = out[y];
    for (int x = 0; x + 1 < luma.cols; ++x) {
      const int dx = a[x + 1] - a[x], dy = b[x] - a[x];
      to[x] = static_cast<float>(dx * dx + dy * dy);
    }
  }
  return out;
}

CutScene scene_of(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                  const Region& box) {
  CutScene out;
  const double width = planes.upright_width(), height = planes.upright_height();
  const Region want = with_rim(box, width, height);
  if (want.empty()) return out;
  const double longer = std::max(want.w * eighth.cols, want.h * eighth.rows);
  cv::Mat picture, detail;
  if (longer >= .75 * kCutSide) {
    const cv::Rect r =
        cv::Rect(cv::Point(static_cast<int>(want.x * eighth.cols), static_cast<int>(want.y * eighth.rows)),
                 cv::Point(static_cast<int>(std::ceil(want.right() * eighth.cols)),
                           static_cast<int>(std::ceil(want.bottom() * eighth.rows)))) &
        cv::Rect(0, 0, eighth.cols, eighth.rows);
    picture = eighth(r);
    out.where = {r.x * 8 / width, r.y * 8 / height, r.width * 8 / width, r.height * 8 / height};
    const cv::Mat up = image::upright(activity, planes.orientation);
    const double k = 8.0 / image::kActivityCell;
    const double s = std::min(1.0, static_cast<double>(kCutSide) / std::max(picture.cols, picture.rows));
    const cv::Size size(std::max(1, static_cast<int>(std::lround(picture.cols * s))),
                        std::max(1, static_cast<int>(std::lround(picture.rows * s))));
    // of each cell its middle
    cv::Mat1f mx(size), my(size);
    for (int y = 0; y < size.height; ++y)
      for (int x = 0; x < size.width; ++x) {
        mx(y, x) = static_cast<float>((r.x + (x + .5) * r.width / size.width) * k - .5);
        my(y, x) = static_cast<float>((r.y + (y + .5) * r.height / size.height) * k - .5);
      }
    cv::remap(up, detail, mx, my, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  } else {
    const auto crop = decode::crop_colour(planes, want);
    if (crop.bgr.empty()) return out;
    picture = crop.bgr;
    out.where = {crop.where.x / width, crop.where.y / height, crop.where.width / width,
                 crop.where.height / height};
    detail = differences_squared(decode::crop_luma(planes, want).luma);
  }
  const double scale = std::min(1.0, static_cast<double>(kCutSide) / std::max(picture.cols, picture.rows));
  const cv::Size size(std::max(1, static_cast<int>(std::lround(picture.cols * scale))),
                      std::max(1, static_cast<int>(std::lround(picture.rows * scale))));
  cv::Mat small, small_detail;
  cv::resize(picture, small, size, 0, 0, cv::INTER_AREA);
  cv::resize(detail, small_detail, size, 0, 0, cv::INTER_AREA);
  out.bgr = small;
  out.detail = small_detail;
  out.box = {(box.x - out.where.x) / out.where.w * size.width,
             (box.y - out.where.y) / out.where.h * size.height, box.w / out.where.w * size.width,
             box.h / out.where.h * size.height};
  return out;
}

cv::Mat_<Look> looks_of(const CutScene& s) {
  const double quiet = s.quiet;
  cv::Mat3f real, lab;
  s.bgr.convertTo(real, CV_32F, 1 / 255.);
  cv::cvtColor(real, lab, cv::COLOR_BGR2Lab);
  if (T(1, .3) > 0) cv::GaussianBlur(lab, lab, {}, T(1, .3));
  cv::Mat1f detail;
  const int er = static_cast<int>(T(16, 1));
  if (er > 0)
    cv::erode(s.detail, detail, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * er + 1, 2 * er + 1}));
  else
    detail = s.detail.clone();
  if (T(2, .5) > 0) cv::GaussianBlur(detail, detail, {}, T(2, .5));
  cv::Mat_<Look> out(s.bgr.size());
  const auto w = static_cast<float>(T(3, 2));
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x) {
      const cv::Vec3f c = lab(y, x);
      const auto t = static_cast<float>(
          std::log2(std::max(0.0, static_cast<double>(detail(y, x)) - quiet) + quiet * .5 + 2));
      out(y, x) = {c[0], c[1], c[2], w * t};
    }
  return out;
}

// Log odds that a place in a box is animal's, before anything was seen.
double prior_at(const cv::Rect2d& box, double x, double y) {
  const double dx = (x - box.x - box.width / 2) / (box.width / 2),
               dy = (y - box.y - box.height / 2) / (box.height / 2);
  return T(4, .7) - T(5, 2.2) * (dx * dx + dy * dy);
}

cv::Mat1b cut(const cv::Mat_<Look>& looks, const cv::Mat1f& cost /* background minus animal; > 0: animal */,
              const cv::Mat1b& in_box, double smooth) {
  const int w = looks.cols, h = looks.rows;
  const float tw = static_cast<float>(T(6, .5));
  const auto step = [&](int y, int x, int y2, int x2) {
    const Look d = looks(y, x) - looks(y2, x2);
    return d[0] * d[0] + d[1] * d[1] + d[2] * d[2] + tw * tw * d[3] * d[3];
  };
  cv::Mat1i node(h, w, -1);
  int count = 0;
  double sum = 0;
  long n = 0;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      if (in_box(y, x)) node(y, x) = count++;
      if (x + 1 < w) sum += static_cast<double>(step(y, x, y, x + 1)), ++n;
      if (y + 1 < h) sum += static_cast<double>(step(y, x, y + 1, x)), ++n;
    }
  const auto beta = static_cast<float>(sum > 0 ? 1 / (2 * sum / static_cast<double>(n)) : 0);
  cv::detail::GCGraph<float> graph(static_cast<unsigned>(count), static_cast<unsigned>(8 * count));
  for (int i = 0; i < count; ++i) graph.addVtx();
  const auto base = static_cast<float>(T(7, .08)), strength = static_cast<float>(smooth);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const int me = node(y, x);
      const auto link = [&](int x2, int y2, float length) {
        if (x2 < 0 || x2 >= w || y2 >= h) return;
        const int other = node(y2, x2);
        if (me < 0 && other < 0) return;
        const float v = strength * (base + (1 - base) * std::exp(-beta * step(y, x, y2, x2))) / length;
        if (me >= 0 && other >= 0)
          graph.addEdges(me, other, v, v);
        else
          graph.addTermWeights(std::max(me, other), 0, v);
      };
      if (me >= 0) graph.addTermWeights(me, std::max(0.f, cost(y, x)), std::max(0.f, -cost(y, x)));
      link(x + 1, y, 1);
      link(x, y + 1, 1);
      link(x + 1, y + 1, std::sqrt(2.f));
      link(x - 1, y + 1, std::sqrt(2.f));
    }
  graph.maxFlow();
  cv::Mat1b out(h, w, static_cast<unsigned char>(0));
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x)
      if (node(y, x) >= 0) out(y, x) = graph.inSourceSegment(node(y, x)) ? 1 : 0;
  return out;
}

void fill(cv::Mat1b& mask) {
  cv::Mat1b padded;
  cv::copyMakeBorder(mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(padded, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  double largest = 0;
  for (const auto& c : contours) largest = std::max(largest, cv::contourArea(c));
  padded.setTo(0);
  for (std::size_t i = 0; i < contours.size(); ++i)
    if (cv::contourArea(contours[i]) >= .1 * largest)
      cv::drawContours(padded, contours, static_cast<int>(i), cv::Scalar(1), cv::FILLED);
  padded(cv::Rect(1, 1, mask.cols, mask.rows)).copyTo(mask);
}

cv::Mat1b cut_scene(const CutScene& scene) {
  cv::Mat1b out;
  if (scene.bgr.empty() || scene.bgr.cols < 8 || scene.bgr.rows < 8) return out;
  const auto looks = looks_of(scene);
  const cv::Rect2d b = scene.box;
  const int w = looks.cols, h = looks.rows;
  const double slack = T(8, 1.5);
  std::vector<Look> ground;
  cv::Mat1b in_box(h, w, static_cast<unsigned char>(0));
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const bool inside = x + .5 > b.x - slack && x + .5 < b.br().x + slack && y + .5 > b.y - slack &&
                          y + .5 < b.br().y + slack;
      in_box(y, x) = inside;
      if (!inside) ground.push_back(looks(y, x));
    }
  if (ground.size() < 16) return out;
  const LookModel behind(ground, static_cast<int>(T(9, 6)));
  cv::Mat1f cost_behind(h, w), prior(h, w);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      cost_behind(y, x) = behind.cost(looks(y, x));
      prior(y, x) = static_cast<float>(T(10, 1) * prior_at(b, x + .5, y + .5));
    }
  // first guess: by prior and what the ring does not explain
  std::vector<float> ring;
  for (const Look& l : ground) ring.push_back(behind.cost(l));
  std::nth_element(ring.begin(), ring.begin() + static_cast<long>(ring.size() * 9 / 10), ring.end());
  const float usual = ring[ring.size() * 9 / 10];
  cv::Mat1b mask(h, w);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const float odds = std::clamp(cost_behind(y, x) - usual, -3.f, 6.f) + 2 * prior(y, x);
      mask(y, x) = in_box(y, x) && odds > 0;
    }
  const auto cap = static_cast<float>(T(11, 6));
  const int rounds = static_cast<int>(T(12, 3));
  cv::Mat1f cost(h, w);
  for (int r = 0; r < rounds; ++r) {
    std::vector<Look> animal, back = ground;
    for (int y = 0; y < h; ++y)
      for (int x = 0; x < w; ++x) {
        if (!in_box(y, x)) continue;
        if (mask(y, x))
          animal.push_back(looks(y, x));
        else if (T(13, 1) > 0)
          back.push_back(looks(y, x));
      }
    if (animal.size() < 16) break;
    const LookModel front(animal, static_cast<int>(T(14, 5))), rear(back, static_cast<int>(T(9, 6)));
    for (int y = 0; y < h; ++y)
      for (int x = 0; x < w; ++x) {
        if (!in_box(y, x)) {
          cost(y, x) = -1000;
          continue;
        }
        cost(y, x) = std::clamp(rear.cost(looks(y, x)) - front.cost(looks(y, x)), -cap, cap) + prior(y, x);
      }
    mask = cut(looks, cost, in_box, T(15, 10));
  }
  fill(mask);
  return mask;
}

}  // namespace

CutOut cut_out(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
               const Region& given) {
  CutOut out;
  const Region box = clamped(given);
  if (box.empty() || eighth.empty() || activity.empty()) return out;
  CutScene scene = scene_of(planes, eighth, activity, box);
  scene.quiet = image::quiet_level(activity);
  const cv::Mat1b mask = cut_scene(scene);
  if (mask.empty() || cv::countNonZero(mask) == 0) return out;
  out.mask.cols = mask.cols;
  out.mask.rows = mask.rows;
  out.mask.cells.assign(mask.begin(), mask.end());
  out.mask.where = scene.where;
  out.confidence = 1;
  return out;
}

}  // namespace burstsieve::subject
