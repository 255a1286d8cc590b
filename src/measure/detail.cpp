#include "burstsieve/measure/detail.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/transfer.h"
#include "edge_pool.h"
#include "noise_floor.h"
#include "own_edges.h"
#include "profile_chain.h"

namespace burstsieve::measure {
namespace {

constexpr int kTile = 64;
constexpr int kMargin = 40;  // 10 px on level 2: 8 for the filters, 2 for a ridge's neighbours
constexpr int kBlock = kTile + 2 * kMargin;
constexpr int kMaxTiles =
    24;  // .1 MP looked at: more tiles moved the result by under 2 % on the nuthatch frame
constexpr int kMaxQuietTiles = 12;
// Ridge pixels weaker than this share of the strongest are texture between edges, whose scale is their own.
constexpr double kRidgeShare = .50;

// Neighbouring edges make the ratio of two scales read up to 25 % low (docs/measures.md).
constexpr double kOnlyCrowded = .7;

struct Tile {
  int x = 0, y = 0;  // top left, px of luma
  double score = 0;
};

double cell_mean(const cv::Mat& activity, int x, int y) {
  const int c = image::kActivityCell;
  const int x0 = std::clamp(x / c, 0, activity.cols - 1),
            x1 = std::clamp((x + kTile) / c, x0 + 1, activity.cols);
  const int y0 = std::clamp(y / c, 0, activity.rows - 1),
            y1 = std::clamp((y + kTile) / c, y0 + 1, activity.rows);
  return cv::mean(activity(cv::Rect(x0, y0, x1 - x0, y1 - y0)))[0];
}

// Tiles covering `r`, or one centred on it when it is smaller than a tile.
std::vector<Tile> tiles_of(const cv::Rect& r) {
  std::vector<Tile> out;
  const int nx = std::max(1, r.width / kTile), ny = std::max(1, r.height / kTile);
  const int x0 = r.x + (r.width - nx * kTile) / 2, y0 = r.y + (r.height - ny * kTile) / 2;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) out.push_back({x0 + i * kTile, y0 + j * kTile, 0});
  return out;
}

void keep_best(std::vector<Tile>& tiles, std::size_t count) {
  std::stable_sort(tiles.begin(), tiles.end(),
                   [](const Tile& a, const Tile& b) { return a.score > b.score; });
  if (tiles.size() > count) tiles.resize(count);
}

std::vector<Tile> edge_tiles(const cv::Mat& activity, const cv::Rect& r, const OwnEdges& own) {
  auto tiles = tiles_of(r);
  if (own.known()) {
    for (Tile& t : tiles) t.score = cell_mean(activity, t.x, t.y) * own.share_of({t.x, t.y, kTile, kTile});
    std::erase_if(tiles, [](const Tile& t) { return !(t.score > 0); });
    keep_best(tiles, kMaxTiles);
    return tiles;
  }
  const double cx = r.x + r.width / 2.0, cy = r.y + r.height / 2.0;
  for (Tile& t : tiles) {
    const double dx = (t.x + kTile / 2.0 - cx) / (r.width / 2.0 + kTile);
    const double dy = (t.y + kTile / 2.0 - cy) / (r.height / 2.0 + kTile);
    // A box's corners hold background: an animal's outline is rounder than its box.
    t.score = cell_mean(activity, t.x, t.y) * std::max(.05, 1 - (dx * dx + dy * dy));
  }
  keep_best(tiles, kMaxTiles);
  return tiles;
}

// The quietest tiles of the whole frame, from dark, middle and bright places, for the noise.
std::vector<Tile> quiet_tiles(const cv::Mat& luma, const cv::Mat& activity) {
  constexpr int kTones = 4;
  std::array<std::vector<Tile>, kTones> by_tone;
  const int step_x = std::max(kTile, luma.cols / 24), step_y = std::max(kTile, luma.rows / 16);
  for (int y = 0; y + kTile <= luma.rows; y += step_y)
    for (int x = 0; x + kTile <= luma.cols; x += step_x) {
      const double level = cv::mean(luma(cv::Rect(x + kTile / 2 - 8, y + kTile / 2 - 8, 16, 16)))[0];
      if (level < 4 || level > 250) continue;  // clipped: noise is cut off there
      by_tone[static_cast<std::size_t>(std::min(3.0, level / 64))].push_back(
          {x, y, -cell_mean(activity, x, y)});
    }
  std::vector<Tile> out;
  for (auto& tone : by_tone) {
    keep_best(tone, kMaxQuietTiles / kTones);
    out.insert(out.end(), tone.begin(), tone.end());
  }
  if (out.empty()) out = tiles_of(cv::Rect(0, 0, luma.cols, luma.rows)), keep_best(out, 1);
  return out;
}

// One tile with its margin, scene-linear, mirrored where it leaves the frame.
void copy_block(const cv::Mat& luma, const Tile& tile, cv::Mat target) {
  const cv::Rect want(tile.x - kMargin, tile.y - kMargin, kBlock, kBlock);
  const cv::Rect have = want & cv::Rect(0, 0, luma.cols, luma.rows);
  cv::Mat block;
  if (have == want)
    block = luma(want);
  else  // isolated: the planes lie in larger buffers, whose padding is nobody's picture
    cv::copyMakeBorder(luma(have), block, have.y - want.y, want.br().y - have.br().y, have.x - want.x,
                       want.br().x - have.br().x, cv::BORDER_REFLECT_101 | cv::BORDER_ISOLATED);
  const auto& linear = image::linear_of_code();
  for (int y = 0; y < kBlock; ++y) {
    const auto* from = block.ptr<std::uint8_t>(y);
    auto* to = target.ptr<float>(y);
    for (int x = 0; x < kBlock; ++x) to[x] = linear[from[x]];
  }
}

cv::Mat stack_blocks(const cv::Mat& luma, const std::vector<Tile>& tiles) {
  cv::Mat stack(static_cast<int>(tiles.size()) * kBlock, kBlock, CV_32F);
  for (std::size_t i = 0; i < tiles.size(); ++i)
    copy_block(luma, tiles[i],
               stack.rowRange(static_cast<int>(i) * kBlock, (static_cast<int>(i) + 1) * kBlock));
  return stack;
}

struct Kernels {
  cv::Mat smooth, derivative;
};

Kernels gaussian_kernels(double t) {
  const int radius = static_cast<int>(std::ceil(4 * t));
  Kernels k{cv::Mat(1, 2 * radius + 1, CV_32F), cv::Mat(1, 2 * radius + 1, CV_32F)};
  double total = 0, slope = 0;
  for (int i = -radius; i <= radius; ++i) total += std::exp(-i * i / (2 * t * t));
  for (int i = -radius; i <= radius; ++i) {
    const double g = std::exp(-i * i / (2 * t * t)) / total;
    k.smooth.at<float>(i + radius) = static_cast<float>(g);
    k.derivative.at<float>(i + radius) = static_cast<float>(g * i);
    slope += g * i * i;
  }
  k.derivative /= slope;  // a unit ramp gives exactly 1
  return k;
}

Gradient gradient(const cv::Mat& image, double t) {
  static const Kernels fine = gaussian_kernels(kFineScale), coarse = gaussian_kernels(kCoarseScale);
  const Kernels& k = t == kFineScale ? fine : coarse;
  Gradient g;
  cv::sepFilter2D(image, g.x, CV_32F, k.derivative, k.smooth, {-1, -1}, 0, cv::BORDER_REFLECT_101);
  cv::sepFilter2D(image, g.y, CV_32F, k.smooth, k.derivative, {-1, -1}, 0, cv::BORDER_REFLECT_101);
  g.energy = g.x.mul(g.x) + g.y.mul(g.y);
  return g;
}

// At every level the filters need 8 px around a tile and the ridge test one more; the wider margin of the
// blocks is for the levels to come.
int margin_at(int level) {
  return std::min(10, kMargin >> level);
}
int block_at(int level) {
  return (kTile >> level) + 2 * margin_at(level);
}

// The stack without what this level does not need of the margins.
cv::Mat trimmed(const cv::Mat& stack, int tiles, int level) {
  const int have = kBlock >> level, want = block_at(level), skip = (have - want) / 2;
  if (skip == 0) return stack;
  cv::Mat out(tiles * want, want, CV_32F);
  for (int t = 0; t < tiles; ++t)
    stack(cv::Rect(skip, t * have + skip, want, want)).copyTo(out.rowRange(t * want, (t + 1) * want));
  return out;
}

// The inner squares of the stacked blocks at a level, without their margins.
template <class Visit>
void for_each_inner(int tiles, int level, Visit visit) {
  const int block = block_at(level), margin = margin_at(level), side = kTile >> level;
  for (int t = 0; t < tiles; ++t) visit(cv::Rect(margin, t * block + margin, side, side), t);
}

// The cells of all tiles, at full size.
double colour_of(const Gradient& fine, const Gradient& coarse, const cv::Mat& image, int tiles) {
  std::vector<GrainCell> cells;
  for_each_inner(tiles, 0, [&](const cv::Rect& tile, int) {
    for (int y = 0; y < kTile; y += kGrainCell)
      for (int x = 0; x < kTile; x += kGrainCell) {
        const cv::Rect r(tile.x + x, tile.y + y, kGrainCell, kGrainCell);
        cells.push_back(
            {cv::mean(fine.energy(r))[0], cv::mean(coarse.energy(r))[0], white_variance(image, r)});
      }
  });
  return noise_colour(std::move(cells));
}

// white: white_variance of every quiet tile at full size, where it sees least of the texture, times the
// noise's colour; filled at level 0.
NoiseFloor noise_floor(const Gradient& fine, const Gradient& coarse, const cv::Mat& image, int tiles,
                       int level, double colour, std::vector<double>& white) {
  std::vector<double> mean, e_fine, e_coarse;
  for_each_inner(tiles, level, [&](const cv::Rect& r, int) {
    const std::size_t tile = mean.size();
    mean.push_back(cv::mean(image(r))[0]);
    if (level == 0) white.push_back(colour * white_variance(image, r));
    // Halving averages four pixels.
    const auto noise = without_texture(cv::mean(fine.energy(r))[0], cv::mean(coarse.energy(r))[0],
                                       white[tile] / (1 << (2 * level)));
    e_fine.push_back(noise.fine);
    e_coarse.push_back(noise.coarse);
  });
  return {fit_line(mean, e_fine), fit_line(mean, e_coarse)};
}

// True on a ridge of the gradient: no neighbour one pixel along the gradient is stronger.
bool on_ridge(const Gradient& g, int x, int y) {
  const float e = g.energy.at<float>(y, x);
  const float gx = g.x.at<float>(y, x), gy = g.y.at<float>(y, x);
  const float norm = std::max(std::abs(gx), std::abs(gy));
  if (!(norm > 0)) return false;
  const float ux = gx / norm, uy = gy / norm;  // reaches the ring of the 8 neighbours
  const auto at = [&](float sx, float sy) {
    const int ix = x + static_cast<int>(std::floor(sx)), iy = y + static_cast<int>(std::floor(sy));
    const float fx = sx - std::floor(sx), fy = sy - std::floor(sy);
    const float* a = g.energy.ptr<float>(iy) + ix;
    const float* b = g.energy.ptr<float>(std::min(iy + 1, g.energy.rows - 1)) + ix;
    const int dx = ix + 1 < g.energy.cols ? 1 : 0;
    return (1 - fy) * ((1 - fx) * a[0] + fx * a[dx]) + fy * ((1 - fx) * b[0] + fx * b[dx]);
  };
  return e >= at(ux, uy) && e >= at(-ux, -uy);
}

// Bin of the gradient's direction once the frame is upright. In sensor layout y runs down; angles are
// counter-clockwise.
int direction_bin(float gx, float gy, int orientation) {
  double dx = gx, dy = gy;
  switch (orientation) {
    case 2:
      dx = -dx;
      break;
    case 4:
      dy = -dy;
      break;
    case 5:
    case 7:
    case 6:
    case 8:
      std::swap(dx, dy);
      if (orientation == 6 || orientation == 8)
        dx = -dx;  // a quarter turn; the sign of the whole does not matter
      break;
    default:
      break;
  }
  const double angle = std::atan2(-dy, dx);  // -pi..pi
  const int bin = static_cast<int>(std::lround(angle / std::numbers::pi * kDirections));
  return ((bin % kDirections) + kDirections) % kDirections;
}

// 255 except where the clip is near enough to cut an edge's profile short, which makes the edge look sharp: a
// bird against a white sky has its whole outline there. Empty when nothing is clipped.
cv::Mat far_from_clip(const cv::Mat& image) {
  constexpr double kClip = .985;  // scene-linear: code 253 of 255
  cv::Mat out = image <= kClip;
  if (cv::countNonZero(out) == out.rows * out.cols) return {};
  cv::erode(out, out, cv::Mat::ones(7, 7, CV_8U));
  return out;
}

// The edges of a stack of tiles that are the subject's.
class OwnRidges {
 public:
  OwnRidges(const OwnEdges& own, const std::vector<Tile>& tiles, int level, const Gradient& g)
      : own_(own), tiles_(tiles), level_(level), g_(g) {}
  bool all() const { return !own_.known(); }
  // inner: the tile's inner square in the stack; x, y: a pixel of it.
  bool hold(int tile, const cv::Rect& inner, int x, int y) const {
    if (all()) return true;
    const Tile& t = tiles_[static_cast<std::size_t>(tile)];
    const double px = 1 << level_;
    return own_.holds(t.x + (x - inner.x + .5) * px, t.y + (y - inner.y + .5) * px, g_.x.at<float>(y, x),
                      g_.y.at<float>(y, x));
  }

 private:
  const OwnEdges& own_;
  const std::vector<Tile>& tiles_;
  int level_;
  const Gradient& g_;
};

// The strongest energy of the tile that counts.
double strongest_in(const cv::Rect& r, int tile, const cv::Mat& energy, const cv::Mat& usable,
                    const OwnRidges& own) {
  double top = 0;
  if (own.all()) {
    cv::minMaxLoc(energy(r), nullptr, &top, nullptr, nullptr, usable.empty() ? cv::Mat() : usable(r));
    return top;
  }
  for (int y = r.y; y < r.y + r.height; ++y)
    for (int x = r.x; x < r.x + r.width; ++x) {
      const double e = static_cast<double>(energy.at<float>(y, x));
      if (e > top && (usable.empty() || usable.at<std::uint8_t>(y, x) != 0) && own.hold(tile, r, x, y))
        top = e;
    }
  return top;
}

// Energy from which a ridge counts as one of the region's strongest edges: a share of the median over the
// stronger half of the tiles, because one glint must not set the bar for a whole bird.
double ridge_bar(const cv::Mat& energy, const cv::Mat& usable, int tiles, int level, const OwnRidges& own) {
  std::vector<double> strongest;
  for_each_inner(tiles, level, [&](const cv::Rect& r, int tile) {
    strongest.push_back(strongest_in(r, tile, energy, usable, own));
  });
  if (strongest.empty()) return 0;
  std::sort(strongest.begin(), strongest.end(), std::greater<>());
  return kRidgeShare * strongest[strongest.size() / 4];
}

// Energy at the coarse scale of a step that rounding to codes and the blocks of a JPEG of quality 75 can draw
// into a smooth place: about one code each (DC step of 8, over 8); four are an edge. In a picture with
// nothing sharper such steps would stand for the lens.
double drawn_by_codes(double mean) {
  constexpr double kSteps = 4;
  // Slope of the inverse sRGB curve (IEC 61966-2-1) at this level, per code of 255.
  const double code = std::max(1 / 12.92, 2.4 / 1.055 * std::pow(std::max(0.0, mean), 1.4 / 2.4)) / 255;
  const double top = kSteps * code / (std::sqrt(2 * std::numbers::pi) * kCoarseScale);
  return top * top;
}

// `ridges` gets the strongest edges away from the clip; the sums take the clip's edges as well, so that there
// is something to say of a bird that shows no other.
EdgeLevel sum_edges(const cv::Mat& image, const Gradient& fine, const Gradient& coarse,
                    const NoiseFloor& floor, int tiles, int level, int orientation, const OwnRidges& own,
                    std::vector<Ridge>& ridges) {
  EdgeLevel out;
  const cv::Mat usable = far_from_clip(image);
  const double bar = ridge_bar(coarse.energy, {}, tiles, level, own);
  const double free_bar = usable.empty() ? bar : ridge_bar(coarse.energy, usable, tiles, level, own);
  double fine_total = 0, noise_total = 0;
  for_each_inner(tiles, level, [&](const cv::Rect& r, int tile) {
    const double mean = cv::mean(image(r))[0];
    const double n_fine = floor.fine.at(mean), n_coarse = floor.coarse.at(mean);
    // Noise energy is exponentially distributed: 12 times its mean is passed by chance once in 160,000
    // pixels.
    const double noise = std::max(12 * n_coarse, 1e-9);
    const double least = std::max({noise, std::min(bar, free_bar), drawn_by_codes(mean)});
    for (int y = r.y; y < r.y + r.height; ++y)
      for (int x = r.x; x < r.x + r.width; ++x) {
        const float c = coarse.energy.at<float>(y, x);
        if (c < least || !on_ridge(coarse, x, y) || !own.hold(tile, r, x, y)) continue;
        const int direction = direction_bin(coarse.x.at<float>(y, x), coarse.y.at<float>(y, x), orientation);
        if (c >= free_bar && (usable.empty() || usable.at<std::uint8_t>(y, x) != 0))
          ridges.push_back({x, y, direction});
        if (c < bar) continue;
        const auto bin = static_cast<std::size_t>(direction);
        const double f = fine.energy.at<float>(y, x);
        out.fine[bin] += f - n_fine;
        out.coarse[bin] += c - n_coarse;
        out.ridge_pixels[bin] += 1;
        fine_total += f;
        noise_total += n_fine;
      }
  });
  out.noise_ratio = fine_total > 0 ? std::clamp(noise_total / fine_total, 0.0, 1.0) : 1.0;
  return out;
}

// Standard deviation that noise gives one component of the fine gradient, averaged over the ridges.
double component_noise(const EdgeLevel& sums) {
  const double ridges = std::accumulate(sums.ridge_pixels.begin(), sums.ridge_pixels.end(), 0.0);
  if (!(ridges > 0) || sums.noise_ratio >= 1) return 0;
  const double clean = std::accumulate(sums.fine.begin(), sums.fine.end(), 0.0);
  const double noise = std::max(0.0, clean) * sums.noise_ratio / (1 - sums.noise_ratio);
  return std::sqrt(noise / ridges / 2);
}

cv::Mat half(const cv::Mat& image) {
  cv::Mat out;
  cv::resize(image, out, {image.cols / 2, image.rows / 2}, 0, 0, cv::INTER_AREA);
  return out;
}

struct LevelBlur {
  double sigma = 0;
  double pixels = 0;
  bool known = false;
};

LevelBlur level_blur(const EdgeLevel& level, double scale, int first, int last) {
  double fine = 0, coarse = 0, pixels = 0;
  for (int k = first; k <= last; ++k) {
    const auto bin = static_cast<std::size_t>(((k % kDirections) + kDirections) % kDirections);
    fine += level.fine[bin];
    coarse += level.coarse[bin];
    pixels += level.ridge_pixels[bin];
  }
  LevelBlur out;
  out.pixels = pixels;
  if (pixels < 8 || !(coarse > 0)) return out;
  constexpr double t1 = kFineScale * kFineScale, t2 = kCoarseScale * kCoarseScale;
  const double ratio = std::clamp(fine / coarse, 1.0 + 1e-6, t2 / t1);
  constexpr double kPixelAperture = 1.0 / 12;  // variance of a box one pixel wide
  const double variance = (t2 - ratio * t1) / (ratio - 1) - kPixelAperture;
  out.sigma = std::min(4.0, std::sqrt(std::max(0.0, variance))) * scale;
  out.known = true;
  return out;
}

// Weight of the coarser level when the finer one says `sigma` of its pixels. A clean finer level stays right
// up to 3 px and sees less of neighbouring edges; noise biases it sharp (noise picks the ridge), so a noisy
// one hands over early. Tuned on the edge and dead-leaves ladder of tests/measure at 0, 2 and 6 % noise.
double handover(double sigma, double noise) {
  const double start = std::max(.8, 2.2 - 12 * noise);
  return std::clamp((sigma - start) / 1.2, 0.0, 1.0);
}

// 200 ridge pixels of full size pin the ratio to a few percent; below 30 it is a guess. A coarser level has
// fewer pixels for the same length of edge, but each is worth more.
double enough_edges(double pixels, int level) {
  return std::clamp((pixels * (1 << level) - 20) / 180, .05, 1.0);
}

EdgeBlur blur_over(const Detail& detail, int first, int last) {
  // So soft that full size shows no edge: the first level that does begins.
  int level = 0;
  LevelBlur finer;
  for (; level < kLevels; ++level) {
    finer = level_blur(detail.levels[static_cast<std::size_t>(level)], 1 << level, first, last);
    if (finer.known) break;
  }
  if (!finer.known) return {};
  const int begin = level;
  double sigma = finer.sigma;
  double noise = detail.levels[static_cast<std::size_t>(level)].noise_ratio;
  for (++level; level < kLevels; ++level) {
    const double unit = 1 << (level - 1);
    const double w = handover(sigma / unit, detail.levels[static_cast<std::size_t>(level - 1)].noise_ratio);
    if (w <= 0) break;
    const LevelBlur next = level_blur(detail.levels[static_cast<std::size_t>(level)], 2 * unit, first, last);
    if (!next.known) break;
    sigma = (1 - w) * sigma + w * next.sigma;
    noise = (1 - w) * noise + w * detail.levels[static_cast<std::size_t>(level)].noise_ratio;
  }
  const double confidence = .95 * enough_edges(finer.pixels, begin) * (1 - noise) * (begin > 0 ? .85 : 1);
  return {sigma, std::clamp(confidence, 0.0, 1.0)};
}

// Whether any direction hands over to `level`: on sharp frames none does, and two thirds of the work is
// saved.
bool coarser_wanted(const Detail& detail, int level) {
  const EdgeLevel& finer = detail.levels[static_cast<std::size_t>(level - 1)];
  for (int k = 0; k < kDirections; ++k) {
    const LevelBlur blur = level_blur(finer, 1, k - 1, k + 1);
    if (!blur.known || handover(blur.sigma, finer.noise_ratio) > 0) return true;
  }
  return profile_hands_over(detail, level - 1);
}

}  // namespace

Detail gather_detail(const cv::Mat& luma, const cv::Mat& activity, int orientation, const Region& region,
                     const CellMask* mask, const NoiseFloors* known) {
  Detail out;
  const Region r = clamped(as_sensor(region, orientation));
  if (luma.empty() || activity.empty() || r.empty() || luma.cols < 16 || luma.rows < 16) return out;
  const cv::Rect pixels(static_cast<int>(r.x * luma.cols), static_cast<int>(r.y * luma.rows),
                        std::max(1, static_cast<int>(r.w * luma.cols)),
                        std::max(1, static_cast<int>(r.h * luma.rows)));
  const OwnEdges own = mask ? OwnEdges(*mask, orientation, luma.size()) : OwnEdges();
  auto tiles = edge_tiles(activity, pixels, own);
  if (tiles.empty()) return out;
  const auto quiet = known ? std::vector<Tile>{} : quiet_tiles(luma, activity);
  const int edges = static_cast<int>(tiles.size()), quiets = static_cast<int>(quiet.size());
  tiles.insert(tiles.end(), quiet.begin(), quiet.end());
  out.tiles = edges;

  cv::Mat stack = stack_blocks(luma, tiles);
  std::vector<double> white;
  double colour = 1;
  for (int level = 0; level < kLevels; ++level) {
    if (level > 0 && !coarser_wanted(out, level)) break;
    if (level > 0) stack = half(stack);
    const cv::Mat image = trimmed(stack, edges + quiets, level);
    const Gradient fine = gradient(image, kFineScale), coarse = gradient(image, kCoarseScale);
    if (level == 0 && !known) colour = colour_of(fine, coarse, image, edges + quiets);
    const int block = block_at(level);
    const cv::Range edge_rows(0, edges * block), quiet_rows(edges * block, (edges + quiets) * block);
    const auto cut = [](const Gradient& g, const cv::Range& rows) {
      return Gradient{g.x.rowRange(rows), g.y.rowRange(rows), g.energy.rowRange(rows)};
    };
    const NoiseFloor floor = known ? (*known)[static_cast<std::size_t>(level)]
                                   : noise_floor(cut(fine, quiet_rows), cut(coarse, quiet_rows),
                                                 image.rowRange(quiet_rows), quiets, level, colour, white);
    const cv::Mat picture = image.rowRange(edge_rows);
    const Gradient fine_edges = cut(fine, edge_rows), coarse_edges = cut(coarse, edge_rows);
    std::vector<Ridge> ridges;
    EdgeLevel& sums = out.levels[static_cast<std::size_t>(level)];
    sums = sum_edges(picture, fine_edges, coarse_edges, floor, edges, level, orientation,
                     OwnRidges(own, tiles, level, coarse_edges), ridges);
    PooledEdges pooled = pool_edges(fine_edges, coarse_edges, ridges, component_noise(sums));
    out.profiles[static_cast<std::size_t>(level)] = pooled.all;
    out.directed[static_cast<std::size_t>(level)] = pooled.directed;
  }
  return out;
}

NoiseFloors noise_floors(const cv::Mat& luma, const cv::Mat& activity) {
  NoiseFloors out;
  if (luma.empty() || activity.empty() || luma.cols < 16 || luma.rows < 16) return out;
  const auto quiet = quiet_tiles(luma, activity);
  const int tiles = static_cast<int>(quiet.size());
  cv::Mat stack = stack_blocks(luma, quiet);
  std::vector<double> white;
  double colour = 1;
  for (int level = 0; level < kLevels; ++level) {
    if (level > 0) stack = half(stack);
    const cv::Mat image = trimmed(stack, tiles, level);
    out[static_cast<std::size_t>(level)] = noise_floor(
        gradient(image, kFineScale), gradient(image, kCoarseScale), image, tiles, level, colour, white);
  }
  return out;
}

EdgeBlur edge_blur(const Detail& detail) {
  if (const auto blur = profile_chain(detail)) return *blur;
  // No edge stands free: the sums over all ridges have to do, for less.
  EdgeBlur rest = blur_over(detail, 0, kDirections - 1);
  rest.confidence *= kOnlyCrowded;
  return rest;
}

// Three neighbouring bins: one alone holds too few edges on small birds.
EdgeBlur edge_blur(const Detail& detail, int direction) {
  return blur_over(detail, direction - 1, direction + 1);
}

}  // namespace burstsieve::measure
