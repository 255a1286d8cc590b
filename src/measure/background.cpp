#include "background.h"

#include <algorithm>
#include <cmath>

#include "burstsieve/image/transfer.h"
#include "plumage.h"
#include "sensor_noise.h"

namespace burstsieve::measure {
namespace {

constexpr double kSamples = 60'000;
// Two codes over black: below it a JPEG's quantisation is as strong as the light.
const double kRenderedFloor = 2 / (255 * 12.92);

cv::Rect2d sensor_box(const Region& box, int orientation, const cv::Rect& picture) {
  const Region r = as_sensor(grown(box, 1.1), orientation);
  return {picture.x + r.x * picture.width, picture.y + r.y * picture.height, r.w * picture.width,
          r.h * picture.height};
}

void add_white(const std::array<double, 3>& level, const std::array<double, 3>& gain, SceneLight& out) {
  if (white_site(level, gain).white)
    out.whites.push_back(static_cast<float>(std::max({level[0], level[1], level[2]})));
}

}  // namespace

SceneLight scene_light(const decode::Mosaic& m, const Subject& subject, const CellMask& mask) {
  SceneLight out;
  const Blocks blocks(m);
  if (!blocks.usable()) return out;
  const Outline outline(mask, m);
  const cv::Rect2d box = sensor_box(subject.box, m.orientation, picture_of(m));
  const int side = blocks.side();
  const int step =
      std::max(1, static_cast<int>(blocks.rows() * static_cast<double>(blocks.cols()) / kSamples));
  for (int row = 0; row < blocks.rows(); ++row)
    for (int col = row % step; col < blocks.cols(); col += step) {
      const int x = m.sensor_x + col * side, y = m.sensor_row(row * side);
      const BlockLevels b = blocks.at(row, col);
      const auto green = static_cast<float>(b.mean[1]);
      out.all.push_back(green);
      if (!box.contains({x + .5, y + .5}))
        out.background.push_back(green);
      else if (outline.animal(x, y))
        add_white(b.mean, m.as_shot_gain, out);
    }
  const BlockNoise noise = block_noise(blocks);
  if (noise.known) out.floor = std::sqrt(noise.variance(0));
  return out;
}

SceneLight scene_light(const decode::Planes& p, const Subject& subject, const CellMask& mask) {
  SceneLight out;
  if (p.luma.empty()) return out;
  const Outline outline(mask, p.orientation, p.luma.cols, p.luma.rows);
  const cv::Rect2d box = sensor_box(subject.box, p.orientation, {0, 0, p.luma.cols, p.luma.rows});
  const RenderedLevels levels(p);
  const auto& linear = image::linear_of_code();
  const int step = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(p.luma.total()) / kSamples)));
  for (int y = 0; y < p.luma.rows; y += step)
    for (int x = 0; x < p.luma.cols; x += step) {
      const float light = linear[p.luma.at<std::uint8_t>(y, x)];
      out.all.push_back(light);
      if (!box.contains({x + .5, y + .5}))
        out.background.push_back(light);
      else if (outline.animal(x, y))
        add_white(levels.at(y, x), {1, 1, 1}, out);
    }
  out.floor = kRenderedFloor;
  return out;
}

double percentile(std::vector<float>& samples, double share) {
  if (samples.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(samples.size() - 1));
  std::nth_element(samples.begin(), samples.begin() + at, samples.end());
  return static_cast<double>(samples[static_cast<std::size_t>(at)]);
}

}  // namespace burstsieve::measure
