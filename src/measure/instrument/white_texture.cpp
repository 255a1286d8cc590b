// white_texture, white_flat: do whites that are held by the sensor show feathers, or one even tone?
//
// Input: the white-plumage mask (measure/plumage.h) without its clipped sites, in cells of 6 x 6 patches of
// about 8 full-size pixels. Local contrast of a cell: rms second difference of neighbouring patch means,
// along rows and columns (a smooth shading has none), freed of what noise alone gives, over the cell's level.
// white_texture: 0..2, the rms over all cells. white_flat: fraction 0..1 of the cells whose contrast is below
// 1 % of their level (Weber's threshold for the eye is about 1 %; from memory) or within noise.
// Noise: from the raw, variance over brightness from the quietest rows of the picture (sensor_noise.h); from
// a JPEG, the quietest cells of the same rendering, so that what demosaicking and compression did to the
// noise is in it. The JPEG is read as means of 8 x 8 luma blocks, so a reduced preview's patches are larger;
// its confidence is .5 at most. Where noise is above the 1 %, confidence falls: grain and feathers look
// alike. Blind to: why there is no texture: a defocused white is as flat as an overexposed rendering of it;
// drawing finer than 8 px.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>

#include "../plumage.h"
#include "../sensor_noise.h"
#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"white_texture", "", 0, 2, "local contrast of the held white plumage beyond noise"},
    MeasureSpec{"white_flat", "", 0, 1, "share of the held white plumage that shows no texture"},
};

constexpr int kPatches = 6;      // per side of a cell
constexpr double kSeen = .01;    // contrast
constexpr int kMostCells = 500;  // 3 ms of mosaic
constexpr int kFewestCells = 8;  // below: a glint, not a bird

struct Cell {
  double energy = 0;  // mean squared second difference / 6: the variance of a patch, shading apart
  double level = 0;
};

// `patch(x, y)`: mean of a patch, nothing where it is not held white plumage.
template <class Patch>
std::optional<Cell> cell_at(const Patch& patch, int x0, int y0) {
  std::array<std::array<std::optional<double>, kPatches>, kPatches> grid;
  Cell out;
  int held = 0;
  for (int y = 0; y < kPatches; ++y)
    for (int x = 0; x < kPatches; ++x)
      if (auto& p = grid[static_cast<std::size_t>(y)][static_cast<std::size_t>(x)] = patch(x0 + x, y0 + y)) {
        out.level += *p;
        ++held;
      }
  // Most of the cell, or it is the plumage's rim, whose contrast is that of the outline.
  if (held < kPatches * kPatches * 3 / 4) return std::nullopt;
  out.level /= held;
  int triples = 0;
  const auto add = [&](const std::optional<double>& a, const std::optional<double>& b,
                       const std::optional<double>& c) {
    if (!a || !b || !c) return;
    const double d = *a - 2 * *b + *c;
    out.energy += d * d / 6;
    ++triples;
  };
  for (std::size_t i = 0; i < kPatches; ++i)
    for (std::size_t k = 0; k + 2 < kPatches; ++k) {
      add(grid[i][k], grid[i][k + 1], grid[i][k + 2]);
      add(grid[k][i], grid[k + 1][i], grid[k + 2][i]);
    }
  if (triples == 0) return std::nullopt;
  out.energy /= triples;
  return out;
}

// Visits up to `most` cells spread evenly over a grid of patches.
template <class Visit>
void spread(cv::Rect patches, int most, Visit visit) {
  const int nx = patches.width / kPatches, ny = patches.height / kPatches;
  if (nx <= 0 || ny <= 0) return;
  const int step = std::max(1, static_cast<int>(std::ceil(std::sqrt(static_cast<double>(nx) * ny / most))));
  for (int y = 0; y < ny; y += step)
    for (int x = 0; x < nx; x += step) visit(patches.x + x * kPatches, patches.y + y * kPatches);
}

struct Sum {
  int cells = 0, flat = 0;
  double contrast = 0, noise = 0;  // squared, relative to the level
  // noise: variance of a patch by noise alone; slope: linear light per unit of the patches, over the level.
  void add(const Cell& cell, double noise_energy, double relative) {
    const double signal = std::max(0.0, cell.energy - noise_energy) * relative * relative;
    ++cells;
    contrast += signal;
    noise += noise_energy * relative * relative;
    // 48 differences of noise stay below twice its energy in 99 of 100 cells.
    flat += signal < kSeen * kSeen || cell.energy < 2 * noise_energy;
  }
};

void report(const Sum& sum, double confidence, const std::string& basis, std::vector<Measure>& out) {
  if (sum.cells < kFewestCells) return;
  const double noise = sum.noise / sum.cells;
  const double clear = noise > 0 ? std::clamp(kSeen * kSeen / noise, .2, 1.0) : 1.0;
  const double enough = std::clamp(sum.cells / 40.0, .4, 1.0);
  const double trust = confidence * clear * enough;
  out.push_back({"white_texture", std::min(2.0, std::sqrt(sum.contrast / sum.cells)), "", trust, basis});
  out.push_back({"white_flat", static_cast<double>(sum.flat) / sum.cells, "", trust, basis});
}

void from_mosaic(const MosaicInput& input, std::vector<Measure>& out) {
  const decode::Mosaic& m = *input.mosaic;
  const Blocks blocks(m);
  if (!blocks.usable()) return;
  const BlockNoise noise = block_noise(input.overview ? Blocks(*input.overview) : blocks);
  if (!noise.known) return;
  const Outline outline(input.mask, m);
  const int side = blocks.side(), across = 8 / side + (8 % side > 0);  // blocks per patch side: 8 or 9 px
  const auto patch = [&](int x, int y) -> std::optional<double> {
    if (!outline.animal(m.sensor_x + x * across * side, m.sensor_y + y * across * side)) return std::nullopt;
    // The mean of the patch is asked for its colour: a single block is too noisy at high ISO.
    std::array<double, 3> sum{};
    for (int row = y * across; row < (y + 1) * across; ++row)
      for (int col = x * across; col < (x + 1) * across; ++col) {
        const BlockLevels b = blocks.at(row, col);
        if (b.top[1] >= kClip) return std::nullopt;
        for (std::size_t c = 0; c < 3; ++c) sum[c] += b.mean[c] / (across * across);
      }
    return white_site(sum, m.as_shot_gain).white ? std::optional(sum[1]) : std::nullopt;
  };
  Sum sum;
  spread({0, 0, blocks.cols() / across, blocks.rows() / across}, kMostCells, [&](int x, int y) {
    const auto cell = cell_at(patch, x, y);
    if (cell) sum.add(*cell, noise.variance(cell->level) / (across * across), 1 / cell->level);
  });
  report(sum, .9, "raw mosaic", out);
}

// Energy of the quietest twentieth of the rendering's cells, in squared codes.
double rendered_noise(const decode::Planes& p) {
  std::vector<double> energies;
  const auto patch = [&](int x, int y) -> std::optional<double> {
    const double code = p.luma8.at<std::uint8_t>(y, x);
    return code > 8 && code < 245 ? std::optional(code) : std::nullopt;  // clipped: noise is cut off there
  };
  spread({0, 0, p.luma8.cols, p.luma8.rows}, 1000, [&](int x, int y) {
    if (const auto cell = cell_at(patch, x, y)) energies.push_back(cell->energy);
  });
  if (energies.empty()) return 0;
  const auto quiet = energies.begin() + static_cast<std::ptrdiff_t>(energies.size() / 20);
  std::nth_element(energies.begin(), quiet, energies.end());
  return std::max(*quiet / .6, 1.0 / 12);  // the stored means are whole numbers
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const decode::Planes& p = *input.planes;
  const cv::Rect r = pixels_under(p, input.subject.box);
  if (r.empty() || p.luma8.empty()) return;
  const cv::Rect patches = cv::Rect((r.x + 7) / 8, (r.y + 7) / 8, r.width / 8, r.height / 8) &
                           cv::Rect(0, 0, p.luma8.cols, p.luma8.rows);
  const Outline outline(input.mask, p.orientation, p.luma.cols, p.luma.rows);
  decode::Planes small;
  small.luma = p.luma8, small.cb = p.cb8, small.cr = p.cr8;
  const RenderedLevels levels(small);
  const auto patch = [&](int x, int y) -> std::optional<double> {
    const double code = p.luma8.at<std::uint8_t>(y, x);
    if (code >= 250 ||
        !outline.animal(std::min(8 * x + 4, p.luma.cols - 1), std::min(8 * y + 4, p.luma.rows - 1)))
      return std::nullopt;
    return white_site(levels.at(y, x), {1, 1, 1}).white ? std::optional(code) : std::nullopt;
  };
  const double noise = rendered_noise(p);
  Sum sum;
  spread(patches, kMostCells, [&](int x, int y) {
    const auto cell = cell_at(patch, x, y);
    if (!cell) return;
    const double encoded = cell->level / 255, step = 1.0 / 255;
    const double level = image::linear_of_srgb(encoded);
    sum.add(*cell, noise, (image::linear_of_srgb(encoded + step) - level) / level);
  });
  report(sum, .5, p.source, out);
}

}  // namespace

extern const Instrument white_texture{"white_texture", kProduces, from_pixels, from_mosaic};

}  // namespace burstsieve::measure::instrument
