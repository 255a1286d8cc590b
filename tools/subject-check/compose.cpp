#include "compose.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

namespace burstsieve::subject_check {
namespace {

constexpr int kLeastCutout = 150, kLeastBackdrop = 1000;
constexpr int kNarrowest = 1200, kWidest = 3000;

// std::mt19937_64 gives the same numbers everywhere, the library's distributions do not.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed * 0x9E3779B97F4A7C15u + 1) {}
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(engine_() >> 11) / 9007199254740992.0;
  }
  int below(int count) { return std::min(count - 1, static_cast<int>(between(0, count))); }

 private:
  std::mt19937_64 engine_;
};

// A 3:2 window `width` pixels wide of a share of the picture.
cv::Mat window_of(const cv::Mat& picture, int width, Dice& dice) {
  const double share = dice.between(.6, 1);
  const double w = share * std::min(picture.cols, picture.rows * 3 / 2);
  const cv::Size size(static_cast<int>(w), static_cast<int>(w * 2 / 3));
  const cv::Rect r(dice.below(picture.cols - size.width + 1), dice.below(picture.rows - size.height + 1),
                   size.width, size.height);
  cv::Mat out;
  cv::resize(picture(r), out, {width, width * 2 / 3}, 0, 0,
             width < size.width ? cv::INTER_AREA : cv::INTER_CUBIC);
  return out;
}

// Sigma of the grain: half of the differences of neighbours along the diagonal of 2x2 pixels, where structure
// cancels, are smaller than .6745 sigma x 2.
double grain_of(const cv::Mat& bgr) {
  cv::Mat grey, response;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(grey, CV_32F);
  const cv::Mat kernel = (cv::Mat_<float>(2, 2) << 1, -1, -1, 1);
  cv::filter2D(grey, response, CV_32F, kernel);
  response = cv::abs(response);
  std::vector<float> values(response.begin<float>(), response.end<float>());
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return std::min(8.0, *middle / (.6745 * 2));
}

cv::Mat opaque_part(const cv::Mat& cutout) {
  if (cutout.type() != CV_8UC4) return {};
  cv::Mat alpha;
  cv::extractChannel(cutout, alpha, 3);
  const cv::Rect box = cv::boundingRect(alpha > 127);
  return box.empty() ? cv::Mat() : cutout(box);
}

struct Cutouts {
  std::vector<cv::Mat> cutouts, backdrops;
};

Result<Cutouts> read_all(const std::string& folder, const std::vector<std::string>& backdrops) {
  namespace fs = std::filesystem;
  std::vector<std::string> files;
  std::error_code problem;
  for (const auto& e : fs::directory_iterator(folder, problem))
    if (e.path().extension() == ".png") files.push_back(e.path().string());
  if (problem) return Error{Cause::io, folder, "can't be listed"};
  std::sort(files.begin(), files.end());
  Cutouts out;
  for (const std::string& file : files) {
    const cv::Mat cut = opaque_part(cv::imread(file, cv::IMREAD_UNCHANGED));
    if (cut.cols >= kLeastCutout) out.cutouts.push_back(cut.clone());
  }
  for (const std::string& file : backdrops) {
    cv::Mat m = cv::imread(file, cv::IMREAD_COLOR);
    if (m.cols < kLeastBackdrop || m.rows < kLeastBackdrop / 2) continue;
    if (m.cols > 2 * kWidest) cv::resize(m, m, {}, .5, .5, cv::INTER_AREA);
    out.backdrops.push_back(m);
  }
  if (out.cutouts.empty()) return Error{Cause::unsupported, folder, "no cut-outs (PNG with alpha) in it"};
  if (out.backdrops.empty()) return Error{Cause::unsupported, folder, "no pictures without an animal"};
  return out;
}

const std::vector<Subject>& boxes_of(const Looked& looked, const std::string& source) {
  static const std::vector<Subject> kNone;
  for (const Answer& a : looked.answers)
    if (a.source == source) return a.boxes;
  return kNone;
}

bool hits(const std::vector<Subject>& boxes, const Region& truth, std::size_t most) {
  return std::any_of(boxes.begin(), boxes.begin() + static_cast<std::ptrdiff_t>(std::min(most, boxes.size())),
                     [&](const Subject& s) { return overlap(s.box, truth) >= kHit; });
}

AfArea focus_on(const Region& truth, Dice& dice) {
  constexpr double kSide = .04;  // of the frame's width: a single area of a camera
  const double x = truth.centre_x() + dice.between(-.25, .25) * truth.w;
  const double y = truth.centre_y() + dice.between(-.25, .25) * truth.h;
  return {clamped({x - kSide / 2, y - .75 * kSide, kSide, 1.5 * kSide}), .9, "composite"};
}

}  // namespace

Composite composite(const cv::Mat& cutout, const cv::Mat& backdrop, double width, std::uint64_t seed) {
  Composite out;
  const cv::Mat opaque = opaque_part(cutout);
  if (opaque.empty() || backdrop.type() != CV_8UC3) return out;
  Dice dice(seed);
  const int wide = std::clamp(static_cast<int>(opaque.cols / width), kNarrowest, kWidest) / 6 * 6;
  out.picture = window_of(backdrop, wide, dice);
  const int high = out.picture.rows;
  double scale = width * wide / opaque.cols;
  scale = std::min(scale, .8 * high / opaque.rows);
  cv::Mat cut;
  cv::resize(opaque, cut, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
  if (dice.below(2) == 1) cv::flip(cut, cut, 1);
  constexpr int kMargin = 4;  // for the soft edge
  cv::copyMakeBorder(cut, cut, kMargin, kMargin, kMargin, kMargin, cv::BORDER_REPLICATE);
  for (int y = 0; y < cut.rows; ++y)
    for (int x = 0; x < cut.cols; ++x)
      if (std::min({x, y, cut.cols - 1 - x, cut.rows - 1 - y}) < kMargin) cut.at<cv::Vec4b>(y, x)[3] = 0;
  cut.convertTo(cut, CV_32F);
  cv::GaussianBlur(cut, cut, {}, dice.between(.8, 1.3));
  const int rim = wide / 50;
  const cv::Rect at(rim + dice.below(std::max(1, wide - cut.cols - 2 * rim)),
                    rim + dice.below(std::max(1, high - cut.rows - 2 * rim)), cut.cols, cut.rows);
  cv::Mat under = out.picture(at);
  cv::Mat grain(cut.size(), CV_32F);
  cv::RNG noise(seed + 77);
  noise.fill(grain, cv::RNG::NORMAL, 0, grain_of(under));
  const double light = dice.between(.8, 1.1);
  for (int y = 0; y < cut.rows; ++y)
    for (int x = 0; x < cut.cols; ++x) {
      const auto c = cut.at<cv::Vec4f>(y, x);
      auto& to = under.at<cv::Vec3b>(y, x);
      const float a = c[3] / 255;
      for (int k = 0; k < 3; ++k)
        to[k] = cv::saturate_cast<unsigned char>(
            a * (static_cast<float>(light) * c[k] + grain.at<float>(y, x)) + (1 - a) * to[k]);
    }
  cv::Mat alpha;
  cv::extractChannel(cut, alpha, 3);
  const cv::Rect box = cv::boundingRect(alpha > 127);
  out.truth = {static_cast<double>(at.x + box.x) / wide, static_cast<double>(at.y + box.y) / high,
               static_cast<double>(box.width) / wide, static_cast<double>(box.height) / high};
  return out;
}

Result<ComposedCheck> check_composed(const std::string& cutouts, const std::vector<std::string>& backdrops,
                                     const ComposeOptions& options, subject::DetectorPool* detectors) {
  const auto all = read_all(cutouts, backdrops);
  if (!all) return all.error();
  ComposedCheck out;
  std::vector<double> widths = options.widths;
  widths.push_back(0);
  for (const double width : widths) {
    Composed row;
    row.width = width;
    for (int i = 0; i < options.count; ++i) {
      const std::uint64_t seed = options.seed + static_cast<std::uint64_t>(i);
      Dice dice(seed + 1'000'000);
      const cv::Mat& backdrop =
          all->backdrops[static_cast<std::size_t>(dice.below(static_cast<int>(all->backdrops.size())))];
      const cv::Mat& cut =
          all->cutouts[static_cast<std::size_t>(dice.below(static_cast<int>(all->cutouts.size())))];
      Composite c;
      if (width > 0)
        c = composite(cut, backdrop, width, seed);
      else
        c.picture = window_of(backdrop, 2400, dice);
      LookOptions look{detectors};
      if (options.focus && width > 0) look.focus = focus_on(c.truth, dice);
      const auto looked = look_at(c.picture, "composite " + std::to_string(seed), look);
      if (!looked) {
        out.errors.push_back(looked.error());
        continue;
      }
      ++row.pictures;
      const auto& seen = boxes_of(*looked, subject::kDetectorSource);
      const auto& fused = looked->answers.back().boxes;
      row.detected += width > 0 ? hits(seen, c.truth, seen.size()) : !seen.empty();
      row.first += width > 0 ? hits(fused, c.truth, 1) : !fused.empty();
    }
    out.rows.push_back(row);
  }
  return out;
}

}  // namespace burstsieve::subject_check
