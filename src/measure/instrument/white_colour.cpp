// white_mired, white_duv, white_mired_spread: the colour in which the neutral white plumage came out.
//
// Input: the rendered picture (JPEG or preview) as means of 8 x 8 pixels inside the subject's outline. Cells
// count that are held (every channel below .9 of the clip: a clipped channel has no colour, and tone curves
// bleach what is near it), not dark (within a stop of the brightest fiftieth of the animal, which itself must
// have a luminance of .25; a limit that moves with the exposure keeps the same feathers in) and not far from
// grey: red and blue within 1.6 stops of each other, green within .35 of their middle. That is wider than the
// plumage mask of measure/plumage.h, which would cut off the cast it is to measure. Of these the main cluster
// is taken: those within .35 stops of the median of the lit ones, half a stop below the brightest fiftieth,
// as white is brighter than buff and than its own shade. Its colour is the median of R/G and of B/G in linear
// light (the mean of the middle half: the 8-bit steps even out).
//
// white_mired: 1e6 / K of its correlated colour temperature (image/colour_temperature.h), 67..590 mired; what
// came out neutral is D65: 154. Higher is warmer. white_duv: its distance from the Planckian locus in CIE
// 1960 uv, -.05..+.05; greenish above 0, daylight lies at +.003. white_mired_spread: 0..600 mired,
// interquartile range over all cells near grey: lit and shaded plumage, or two kinds of plumage.
//
// Assumed, as the file's colour space is not read: JPEG YCbCr of BT.601 at full range (JFIF) and sRGB. Adobe
// RGB shares red, blue and white with sRGB; read so, its shifts come out a seventh too small. This is the
// light *as rendered*: after the camera's white balance, which may have followed it, and its tone curve,
// which exaggerates or bleaches casts by some tenths. Good for shifts between frames of one camera at one
// setting; 1 mired is 42 K at D65. The sensor is not asked: only contenders' mosaics are read, and an
// outing's frames must be measured alike.
//
// Confidence, .8 at most, falls with little plumage, clipped plumage, a wide spread, and distance from
// neutral; beyond a tint of .015 from daylight nothing is said. Blind to: cream or buff plumage (warm), a
// white background inside the outline, light reflected by water and leaves.
#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>
#include <string>
#include <vector>

#include "../plumage.h"
#include "burstsieve/image/colour_temperature.h"
#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"white_mired", "mired", image::kColdest, image::kWarmest,
                "colour temperature of the white plumage as rendered; 154 is neutral, higher is warmer"},
    MeasureSpec{"white_duv", "", -.05, .05, "its tint: distance from the Planckian locus, green above 0"},
    MeasureSpec{"white_mired_spread", "mired", 0, 600, "interquartile range over the plumage"},
};

constexpr double kHeld = .9, kBright = .25;  // of the clip
constexpr double kTop = .98, kBelowTop = .5, kLit = .7;
constexpr double kWarmCold = 1.6, kTint = .35, kCluster = .35;  // stops
constexpr std::size_t kFewestCells = 24;                        // 1,500 px
constexpr double kNeutral = 153.7, kDaylightDuv = .0032;        // D65
constexpr double kMostTint = .015;
constexpr double kMiredPerStop = 65;  // of red over blue, near D65: D50 has .705 stops and 46 mired

struct Cell {
  double red = 0, blue = 0;  // log2 of R/G and B/G
  double light = 0;
  double warmth() const { return red - blue; }
};

double luminance(const std::array<double, 3>& rgb) {
  return .2126 * rgb[0] + .7152 * rgb[1] + .0722 * rgb[2];
}

std::optional<Cell> near_grey(const std::array<double, 3>& rgb, double darkest) {
  const auto [r, g, b] = rgb;
  const double light = luminance(rgb);
  if (!(light >= darkest) || std::max({r, g, b}) >= kHeld || !(std::min({r, g, b}) > 0)) return std::nullopt;
  const Cell cell{std::log2(r / g), std::log2(b / g), light};
  if (std::abs(cell.warmth()) > kWarmCold || std::abs(cell.red + cell.blue) / 2 > kTint) return std::nullopt;
  return cell;
}

struct Plumage {
  std::vector<Cell> cells;
  double top = 0;   // luminance that a fiftieth of the animal exceeds
  double lost = 0;  // share of the bright cells that are not held
};

// The held cells within a stop of the brightest fiftieth; none where that is dark.
Plumage bright_near_grey(const std::vector<std::array<double, 3>>& animal) {
  Plumage out;
  if (animal.empty()) return out;
  std::vector<double> lights;
  for (const auto& rgb : animal) lights.push_back(luminance(rgb));
  const auto top =
      lights.begin() + static_cast<std::ptrdiff_t>(kTop * static_cast<double>(lights.size() - 1));
  std::nth_element(lights.begin(), top, lights.end());
  out.top = *top;
  if (out.top < kBright) return out;
  double bright = 0;
  for (const auto& rgb : animal) {
    if (luminance(rgb) < kBelowTop * out.top) continue;
    ++bright;
    out.lost += std::max({rgb[0], rgb[1], rgb[2]}) >= kHeld;
    if (const auto cell = near_grey(rgb, kBelowTop * out.top)) out.cells.push_back(*cell);
  }
  if (bright > 0) out.lost /= bright;
  return out;
}

// The mean of the middle half; `values` not empty.
double middle(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size(), from = n / 4, to = n - n / 4;
  double sum = 0;
  for (std::size_t i = from; i < to; ++i) sum += values[i];
  return sum / static_cast<double>(to - from);
}

template <class Of>
std::vector<double> each(const std::vector<Cell>& cells, Of of) {
  std::vector<double> out;
  out.reserve(cells.size());
  for (const Cell& c : cells) out.push_back(of(c));
  return out;
}

double quartile_range(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return values[n - 1 - n / 4] - values[n / 4];
}

std::vector<Cell> main_cluster(const std::vector<Cell>& cells, double top) {
  std::vector<Cell> lit;
  std::copy_if(cells.begin(), cells.end(), std::back_inserter(lit),
               [&](const Cell& c) { return c.light >= kLit * top; });
  if (lit.size() < kFewestCells) return lit;
  const double red = middle(each(lit, [](const Cell& c) { return c.red; }));
  const double blue = middle(each(lit, [](const Cell& c) { return c.blue; }));
  std::vector<Cell> out;
  std::copy_if(cells.begin(), cells.end(), std::back_inserter(out), [&](const Cell& c) {
    return std::abs(c.red - red) <= kCluster && std::abs(c.blue - blue) <= kCluster;
  });
  return out;
}

// 1 up to `good`, `least` from `bad` on.
double falling(double v, double good, double bad, double least) {
  return std::clamp(1 - (1 - least) * (v - good) / (bad - good), least, 1.0);
}

void report(const Plumage& near, std::size_t animal, const std::string& basis, std::vector<Measure>& out) {
  const std::vector<Cell> white = main_cluster(near.cells, near.top);
  if (white.size() < kFewestCells) return;
  const double red = middle(each(white, [](const Cell& c) { return c.red; }));
  const double blue = middle(each(white, [](const Cell& c) { return c.blue; }));
  const auto xy = image::chromaticity_of({std::exp2(red), 1, std::exp2(blue)});
  const auto colour = xy ? image::temperature_of(*xy) : std::nullopt;
  if (!colour) return;
  const double tint = std::abs(colour->duv - kDaylightDuv);
  if (tint > kMostTint) return;
  const double spread =
      kMiredPerStop * quartile_range(each(near.cells, [](const Cell& c) { return c.warmth(); }));
  const double count = static_cast<double>(white.size());
  const double enough =
      std::clamp(count / 200, .3, 1.0) * std::clamp(10 * count / static_cast<double>(animal), .3, 1.0);
  const double trust = .8 * enough * falling(spread, 15, 50, .3) * falling(near.lost, .1, .5, .3) *
                       falling(std::abs(colour->mired - kNeutral), 30, 75, .4) *
                       falling(tint, .004, kMostTint, .2);
  out.push_back({"white_mired", colour->mired, "mired", trust, basis});
  out.push_back({"white_duv", colour->duv, "", trust, basis});
  out.push_back({"white_mired_spread", std::min(600.0, spread), "mired", trust, basis});
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const decode::Planes& p = *input.planes;
  const cv::Rect r = pixels_under(p, input.subject.box);
  if (r.empty() || p.luma8.empty() || p.cb8.empty() || p.cr8.empty()) return;
  const cv::Rect cells = cv::Rect((r.x + 7) / 8, (r.y + 7) / 8, r.width / 8, r.height / 8) &
                         cv::Rect(0, 0, p.luma8.cols, p.luma8.rows);
  const Outline outline(input.mask, p.orientation, p.luma.cols, p.luma.rows);
  decode::Planes small;
  small.luma = p.luma8, small.cb = p.cb8, small.cr = p.cr8;
  const RenderedLevels levels(small);
  std::vector<std::array<double, 3>> animal;
  // 20,000 cells put the median of a spread of 20 mired within .2.
  const int step = std::max(1, static_cast<int>(std::sqrt(cells.area() / 20'000.0)));
  for (int y = cells.y; y < cells.br().y; y += step)
    for (int x = cells.x; x < cells.br().x; x += step) {
      if (!outline.animal(std::min(8 * x + 4, p.luma.cols - 1), std::min(8 * y + 4, p.luma.rows - 1)))
        continue;
      animal.push_back(levels.at(y, x));
    }
  report(bright_near_grey(animal), animal.size(), p.source, out);
}

}  // namespace

extern const Instrument white_colour{"white_colour", kProduces, from_pixels, nullptr};

}  // namespace burstsieve::measure::instrument
