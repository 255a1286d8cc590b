// White plumage, site by site: what every instrument for highlights means by it.
//
// Mask: inside the subject's outline, near-neutral after the camera's own white balance, brighter than a
// quarter of the clip. A channel at the clip says nothing of the colour any more, so a clipped site counts as
// white when its other channels are bright. Blind to: a white background inside the outline (foam, sky), and
// plumage in deep shade.
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/decode/mosaic.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::measure {

// Photosites at .985 of white and above: saturation is not perfectly even over a sensor.
inline constexpr double kClip = .985;
// Fewer sites than this carry no fraction worth naming.
inline constexpr int kMinSites = 200;

struct WhiteSite {
  bool white = false;
  std::array<bool, 3> clipped{};
  int clipped_channels() const { return clipped[0] + clipped[1] + clipped[2]; }
};

// level: R, G, B as parts of the clip, on the sensor's scale, unclamped; gain: white balance, green = 1.
WhiteSite white_site(const std::array<double, 3>& level, const std::array<double, 3>& gain);

// What the picture shows of the mosaic's active area.
cv::Rect picture_of(const decode::Mosaic& mosaic);

// Whether a pixel or photosite, in sensor layout, lies on the animal. Everything does when the outline is
// unknown.
class Outline {
 public:
  Outline(const CellMask& mask, int orientation, int width, int height)
      : Outline(mask, orientation, cv::Rect(0, 0, width, height)) {}
  // x, y: in the active area, of which the picture may show a part only.
  Outline(const CellMask& mask, const decode::Mosaic& mosaic)
      : Outline(mask, mosaic.orientation, picture_of(mosaic)) {}
  bool animal(int x, int y) const {
    if (cells_.empty()) return true;
    const int row = row_[static_cast<std::size_t>(y - picture_.y)],
              col = col_[static_cast<std::size_t>(x - picture_.x)];
    return row >= 0 && col >= 0 && cells_(row, col) != 0;
  }

 private:
  Outline(const CellMask& mask, int orientation, const cv::Rect& picture);
  cv::Rect picture_;
  cv::Mat1b cells_;             // sensor layout
  std::vector<int> col_, row_;  // of the grid; -1 outside it
};

// The levels of the smallest block that holds every colour: 2x2 of Bayer, 3x3 of X-Trans.
struct BlockLevels {
  std::array<double, 3> mean{}, top{};  // parts of the clip; top: the brightest site of the colour
};

class Blocks {
 public:
  explicit Blocks(const decode::Mosaic& mosaic);
  // False where levels or pattern make no sense: nothing can be said then.
  bool usable() const { return usable_; }
  const decode::Mosaic& mosaic() const { return mosaic_; }
  int side() const { return side_; }
  int cols() const { return mosaic_.values.cols / side_; }
  int rows() const { return mosaic_.values.rows / side_; }
  // Of the block in that place of the grid of blocks.
  BlockLevels at(int row, int col) const {
    BlockLevels out;
    const auto& phase = phases_[static_cast<std::size_t>((row % repeat_) * repeat_ + col % repeat_)];
    std::size_t k = 0;
    for (int j = 0; j < side_; ++j) {
      const auto* site = mosaic_.values.ptr<std::uint16_t>(row * side_ + j) + col * side_;
      for (int i = 0; i < side_; ++i, ++k) {
        const std::size_t c = phase.colour[k];
        const double level = (site[i] - mosaic_.black[c]) * scale_[c];
        out.mean[c] += level * phase.share[c];
        if (level > out.top[c]) out.top[c] = level;
      }
    }
    return out;
  }

 private:
  struct Phase {
    std::array<std::uint8_t, 9> colour{};
    std::array<double, 3> share{};  // 1 / sites of the colour
  };
  const decode::Mosaic& mosaic_;
  int side_ = 2, repeat_ = 1;
  bool usable_ = false;
  std::array<double, 3> scale_{};
  std::array<Phase, 4> phases_;
};

// Levels of a rendered picture's pixels: sRGB curve taken off, JFIF colours; a grey picture gives three equal
// ones.
class RenderedLevels {
 public:
  explicit RenderedLevels(const decode::Planes& planes) : planes_(planes) {}
  std::array<double, 3> at(int y, int x) const;

 private:
  const decode::Planes& planes_;
};

// Pixels of the planes that a region (upright) covers, in sensor layout; empty when there are none.
cv::Rect pixels_under(const decode::Planes& planes, const Region& region);

}  // namespace burstsieve::measure
