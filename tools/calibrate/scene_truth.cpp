#include "scene_truth.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "burstsieve/image/orientation.h"

namespace burstsieve::calibrate {
namespace {

constexpr int kFewest = 400;  // px of plumage
constexpr int kPatch = 8, kPatches = 6;

double quantile(std::vector<float>& v, double share) {
  if (v.empty()) return 0;
  const auto at = v.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), at, v.end());
  return static_cast<double>(*at);
}

// The sensor's levels of white-balanced light.
cv::Vec3f on_sensor(const cv::Vec3f& light) {
  return {light[0] * static_cast<float>(generate::as_shot_neutral[0]),
          light[1] * static_cast<float>(generate::as_shot_neutral[1]),
          light[2] * static_cast<float>(generate::as_shot_neutral[2])};
}

void count_whites(const generate::RenderedFrame& frame, SceneTruth& out) {
  std::array<std::vector<float>, 3> levels;
  std::array<int, 3> clipped{}, together{};
  int all = 0;
  for (int y = 0; y < frame.light.rows; ++y)
    for (int x = 0; x < frame.light.cols; ++x) {
      if (!frame.white_mask(y, x)) continue;
      ++all;
      const cv::Vec3f v = on_sensor(frame.light(y, x));
      int n = 0;
      for (std::size_t c = 0; c < 3; ++c) {
        levels[c].push_back(v[static_cast<int>(c)]);
        const bool gone = v[static_cast<int>(c)] >= 1;
        clipped[c] += gone;
        n += gone;
      }
      if (n > 0) ++together[static_cast<std::size_t>(n - 1)];
    }
  out.white = all >= kFewest;
  if (!out.white) return;
  for (std::size_t c = 0; c < 3; ++c) {
    out.clipped[c] = static_cast<double>(clipped[c]) / all;
    out.together[c] = static_cast<double>(together[c]) / all;
    out.headroom_ev[c] = std::max(0.0, -std::log2(quantile(levels[c], .995)));
  }
  const Region& box = frame.truth.subject;
  out.white_share = all / std::max(1.0, box.w * box.h * static_cast<double>(frame.light.total()));
}

void count_texture(const generate::RenderedFrame& frame, SceneTruth& out) {
  const int nx = frame.light.cols / kPatch, ny = frame.light.rows / kPatch;
  cv::Mat1d mean(ny, nx, -1.0);
  for (int y = 0; y < ny; ++y)
    for (int x = 0; x < nx; ++x) {
      double sum = 0;
      bool held = true;
      for (int j = 0; j < kPatch && held; ++j)
        for (int i = 0; i < kPatch && held; ++i) {
          const int py = y * kPatch + j, px = x * kPatch + i;
          held = frame.white_mask(py, px) != 0 && frame.light(py, px)[1] < .985f;
          sum += static_cast<double>(frame.light(py, px)[1]);
        }
      if (held) mean(y, x) = sum / (kPatch * kPatch);
    }
  double energy = 0;
  int cells = 0, flat = 0;
  for (int y = 0; y + kPatches <= ny; y += kPatches)
    for (int x = 0; x + kPatches <= nx; x += kPatches) {
      const cv::Mat1d cell = mean(cv::Rect(x, y, kPatches, kPatches));
      double level = 0, second = 0;
      int held = 0, triples = 0;
      const auto add = [&](double a, double b, double c) {
        if (a < 0 || b < 0 || c < 0) return;
        second += (a - 2 * b + c) * (a - 2 * b + c) / 6;
        ++triples;
      };
      for (int i = 0; i < kPatches; ++i)
        for (int k = 0; k < kPatches; ++k) {
          if (cell(i, k) >= 0) level += cell(i, k), ++held;
          if (k + 2 >= kPatches) continue;
          add(cell(i, k), cell(i, k + 1), cell(i, k + 2));
          add(cell(k, i), cell(k + 1, i), cell(k + 2, i));
        }
      if (held < kPatches * kPatches * 3 / 4 || triples == 0) continue;
      level /= held;
      const double contrast = second / triples / (level * level);
      ++cells;
      energy += contrast;
      flat += contrast < .01 * .01;
    }
  if (cells < 8) return;
  out.texture = std::sqrt(energy / cells);
  out.flat = static_cast<double>(flat) / cells;
}

void count_light(const generate::RenderedFrame& frame, int orientation, SceneTruth& out) {
  // Upright, where the truth's box is.
  const cv::Mat light = image::upright(frame.light, orientation),
                mask = image::upright(frame.white_mask, orientation);
  std::vector<float> all, background, whites;
  const Region& s = frame.truth.subject;
  const Region grown{s.x - .1 * s.w, s.y - .1 * s.h, 1.2 * s.w, 1.2 * s.h};
  for (int y = 0; y < light.rows; y += 2)
    for (int x = 0; x < light.cols; x += 2) {
      const float v = std::min(1.0f, light.at<cv::Vec3f>(y, x)[1]);
      const double u = (x + .5) / light.cols, w = (y + .5) / light.rows;
      all.push_back(v);
      if (u < grown.x || u > grown.right() || w < grown.y || w > grown.bottom()) background.push_back(v);
      if (mask.at<std::uint8_t>(y, x)) whites.push_back(v);
    }
  out.scene_contrast_ev = std::log2(std::max(1e-6, quantile(all, .995)) / std::max(1e-6, quantile(all, .01)));
  double gain = 1;
  if (whites.size() >= 50) {
    const double top = quantile(whites, .995);
    if (top > 0 && top < .985) gain = 1 / top;
  }
  const double limit = 2 / 903.3 / gain;
  const auto blocked = std::count_if(background.begin(), background.end(),
                                     [&](float v) { return static_cast<double>(v) < limit; });
  out.shadow_blocked =
      background.empty() ? 0 : static_cast<double>(blocked) / static_cast<double>(background.size());
}

}  // namespace

SceneTruth scene_truth(const generate::RenderedFrame& frame, int orientation) {
  SceneTruth out;
  count_whites(frame, out);
  if (out.white) count_texture(frame, out);
  count_light(frame, orientation, out);
  return out;
}

}  // namespace burstsieve::calibrate
