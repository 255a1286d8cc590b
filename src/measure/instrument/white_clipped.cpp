// white_clipped_r/g/b, headroom_ev: do the white feathers still hold detail?
//
// white_clipped_*: fraction 0..1 of the white-plumage mask at the clip, per channel. headroom_ev: stops, >=
// 0, from the brightest 0.5 % of the mask to the clip, of the channel nearest to it: log2((white - black) /
// (x - black)). white_share: how much of the subject's box is white plumage; with next to none the others are
// not reported. Mask: near-neutral and bright after the camera's own white balance. A channel at the clip
// says nothing of the colour any more, so a clipped site counts as white when its other channels are bright.
// From the raw mosaic: per CFA channel, with the file's own black and white levels (DNG 1.6 BlackLevel,
// WhiteLevel). From a rendered JPEG: after the camera's tone curve, which clips earlier or later than the
// sensor; confidence is lower and the basis says so. Blind to: a white background inside the subject's box
// (foam, sky), and plumage in deep shade.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <string>

#include "burstsieve/image/transfer.h"
#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"white_clipped_r", "", 0, 1, "share of the white plumage whose red is clipped"},
    MeasureSpec{"white_clipped_g", "", 0, 1, "share of the white plumage whose green is clipped"},
    MeasureSpec{"white_clipped_b", "", 0, 1, "share of the white plumage whose blue is clipped"},
    MeasureSpec{"headroom_ev", "EV", 0, 16, "stops left between the brightest plumage and the clip"},
    MeasureSpec{"white_share", "", 0, 1, "share of the subject's box that is white plumage"},
};
constexpr std::array<const char*, 3> kClippedIds{"white_clipped_r", "white_clipped_g", "white_clipped_b"};

// Of the clip. White plumage reflects .6 to .9 (common practice, no source); metered at mid grey it lies 1.7
// to 2.3 stops over it, and grey 2.96 stops under the clip (ISO 12232 by ANCHORS), so .25 takes in plumage a
// stop darker.
constexpr double kBright = .25;
// Neutral after white balance: channels within a third of a stop of each other.
constexpr double kNeutralRatio = 1.26;
// Photosites at .985 of white and above: saturation is not perfectly even over a sensor.
constexpr double kClip = .985;
// Fewer sites than this carry no fraction worth naming.
constexpr int kMinSites = 200;

struct Tally {
  static constexpr int kBins = 2048;
  int sites = 0, white = 0;
  std::array<int, 3> clipped{};
  std::array<std::array<int, kBins>, 3> histogram{};  // of the white sites, 0..1 of the clip

  // rgb: 0..1 of the clip, sensor scale; gain: white balance, green = 1.
  void add(const std::array<double, 3>& rgb, const std::array<double, 3>& gain) {
    ++sites;
    std::array<double, 3> balanced{};
    bool any_clipped = false;
    double low = 1e9, high = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      balanced[c] = rgb[c] * gain[c];
      if (rgb[c] >= kClip) {
        any_clipped = true;
        continue;  // its true value is unknown, only that it is at least this
      }
      low = std::min(low, balanced[c]);
      high = std::max(high, balanced[c]);
    }
    const bool all_clipped = high == 0 && any_clipped;
    const bool neutral = all_clipped || (low < 1e9 && high <= low * kNeutralRatio);
    const bool bright = all_clipped || (any_clipped ? low >= 2 * kBright : low >= kBright);
    if (!neutral || !bright) return;
    ++white;
    for (std::size_t c = 0; c < 3; ++c) {
      if (rgb[c] >= kClip) ++clipped[c];
      const int bin = std::clamp(static_cast<int>(rgb[c] * kBins), 0, kBins - 1);
      ++histogram[c][static_cast<std::size_t>(bin)];
    }
  }

  // The level that .5 % of the white sites exceed, in the channel nearest the clip.
  double brightest() const {
    double out = 0;
    for (const auto& channel : histogram) {
      int above = 0, bin = kBins - 1;
      while (bin > 0 && (above += channel[static_cast<std::size_t>(bin)]) * 200 < white) --bin;
      out = std::max(out, (bin + .5) / kBins);
    }
    return std::min(1.0, out);
  }
};

// Whether a photosite, in sensor layout, lies on the animal. Everything does when the outline is unknown.
class Whose {
 public:
  Whose(const CellMask& mask, int orientation, int width, int height)
      : mask_(mask), orientation_(orientation), width_(width), height_(height) {}
  bool animal(int x, int y) const {
    if (mask_.empty() || width_ <= 0 || height_ <= 0) return true;
    const Region spot = upright({(x + .5) / width_, (y + .5) / height_, 0, 0}, orientation_);
    return mask_.holds(spot.x, spot.y);
  }

 private:
  const CellMask& mask_;
  int orientation_, width_, height_;
};

void report(const Tally& tally, double confidence, const std::string& basis, std::vector<Measure>& out) {
  if (tally.sites < kMinSites) return;
  const double share = static_cast<double>(tally.white) / tally.sites;
  out.push_back({"white_share", share, "", confidence, basis});
  if (tally.white < kMinSites || share < .01) return;
  // A small mask may be foam or a bill's glint.
  const double trust = confidence * std::clamp(share / .05, .4, 1.0);
  for (std::size_t c = 0; c < 3; ++c)
    out.push_back({kClippedIds[c], static_cast<double>(tally.clipped[c]) / tally.white, "", trust, basis});
  const double top = tally.brightest();
  out.push_back({"headroom_ev", top >= kClip ? 0.0 : std::min(16.0, std::log2(1 / top)), "EV", trust, basis});
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const decode::Planes& p = *input.planes;
  const Region r = clamped(as_sensor(input.subject.box, p.orientation));
  if (r.empty() || p.luma.empty()) return;
  const int x0 = static_cast<int>(r.x * p.luma.cols),
            x1 = static_cast<int>(std::ceil(r.right() * p.luma.cols));
  const int y0 = static_cast<int>(r.y * p.luma.rows),
            y1 = static_cast<int>(std::ceil(r.bottom() * p.luma.rows));
  // 60,000 samples put the standard error of a 1 % fraction at .04 %.
  const double area = static_cast<double>(x1 - x0) * (y1 - y0);
  const int step = std::max(1, static_cast<int>(std::sqrt(area / 60'000)));
  const bool colour = !p.cb.empty() && !p.cr.empty();
  const auto& linear = image::linear_of_code();
  Tally tally;
  const Whose whose(input.mask, p.orientation, p.luma.cols, p.luma.rows);
  for (int y = y0; y < std::min(y1, p.luma.rows); y += step) {
    const auto* luma = p.luma.ptr<std::uint8_t>(y);
    const std::uint8_t* cb_row = nullptr;
    const std::uint8_t* cr_row = nullptr;
    if (colour) {
      const int cy =
          std::min(p.cb.rows - 1, static_cast<int>(static_cast<std::int64_t>(y) * p.cb.rows / p.luma.rows));
      cb_row = p.cb.ptr<std::uint8_t>(cy);
      cr_row = p.cr.ptr<std::uint8_t>(cy);
    }
    for (int x = x0; x < std::min(x1, p.luma.cols); x += step) {
      if (!whose.animal(x, y)) continue;
      double cb = 0, cr = 0;
      if (colour) {
        const int cx =
            std::min(p.cb.cols - 1, static_cast<int>(static_cast<std::int64_t>(x) * p.cb.cols / p.luma.cols));
        cb = cb_row[cx] - 128;
        cr = cr_row[cx] - 128;
      }
      // JFIF 1.02 p. 3 (from memory): full-range BT.601.
      const std::array<double, 3> rgb{luma[x] + 1.402 * cr, luma[x] - .344136 * cb - .714136 * cr,
                                      luma[x] + 1.772 * cb};
      std::array<double, 3> level{};
      for (std::size_t c = 0; c < 3; ++c)
        level[c] = linear[static_cast<std::size_t>(std::clamp(std::lround(rgb[c]), 0L, 255L))];
      tally.add(level, {1, 1, 1});
    }
  }
  // Half: the rendering hides up to a stop of sensor headroom, or more.
  report(tally, .5, p.source, out);
}

void from_mosaic(const MosaicInput& input, std::vector<Measure>& out) {
  const decode::Mosaic& m = *input.mosaic;
  // The smallest block that holds every colour: 2x2 of Bayer, 3x3 of X-Trans.
  const int block = m.cfa_side == 2 ? 2 : 3;
  Tally tally;
  const Whose whose(input.mask, m.orientation, m.sensor_width, m.sensor_height);
  for (int y = 0; y + block <= m.values.rows; y += block)
    for (int x = 0; x + block <= m.values.cols; x += block) {
      if (!whose.animal(m.sensor_x + x, m.sensor_y + y)) continue;
      std::array<double, 3> sum{}, top{};
      std::array<int, 3> count{};
      for (int j = 0; j < block; ++j) {
        const auto* row = m.values.ptr<std::uint16_t>(y + j);
        for (int i = 0; i < block; ++i) {
          const auto c = static_cast<std::size_t>(m.colour_at(y + j, x + i));
          if (c > 2) continue;
          const double level = (row[x + i] - m.black[c]) / (m.white[c] - m.black[c]);
          sum[c] += level;
          top[c] = std::max(top[c], level);
          ++count[c];
        }
      }
      if (!count[0] || !count[1] || !count[2]) continue;
      std::array<double, 3> rgb{};
      for (std::size_t c = 0; c < 3; ++c) {
        const double mean = sum[c] / count[c];
        // One clipped photosite of a colour clips the block: the mean would hide it.
        rgb[c] = std::clamp(top[c] >= kClip ? top[c] : mean, 0.0, 1.0);
      }
      tally.add(rgb, m.as_shot_gain);
    }
  report(tally, .95, "raw mosaic", out);
}

}  // namespace

extern const Instrument white_clipped{"white_clipped", kProduces, from_pixels, from_mosaic};

}  // namespace burstsieve::measure::instrument
