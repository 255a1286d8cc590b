// white_clipped_r/g/b, white_recoverable, white_partly, white_gone, headroom_ev, headroom_ev_r/g/b,
// white_share: do the white feathers still hold detail?
//
// white_clipped_*: fraction 0..1 of the white-plumage mask (measure/plumage.h) at the clip, per channel.
// white_recoverable: exactly one channel clipped; the two that hold rebuild it, plumage being neutral.
// white_partly: two clipped; one channel still carries the feathers' drawing, their colour is guesswork.
// white_gone: all three clipped; nothing to recover. headroom_ev_*: stops, >= 0, from the brightest .5 % of
// the mask to the clip: log2((white - black) / (x - black)); headroom_ev: of the channel nearest to it.
// white_share: how much of the subject is white plumage; with next to none the others are not reported.
// From the raw mosaic: per CFA channel, with the file's own black and white levels (DNG 1.6 BlackLevel,
// WhiteLevel); sensor noise is part of the brightest .5 %, as it is of what clips. From a rendered JPEG:
// after the camera's tone curve, which clips earlier or later than the sensor; confidence is .5 at most and
// the basis says so; once a mosaic was read no number from the JPEG stays. Blind to: a white background
// inside the subject's outline (foam, sky), and plumage in deep shade.
#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "../plumage.h"
#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure::instrument {
namespace {

constexpr std::array kProduces{
    MeasureSpec{"white_clipped_r", "", 0, 1, "share of the white plumage whose red is clipped"},
    MeasureSpec{"white_clipped_g", "", 0, 1, "share of the white plumage whose green is clipped"},
    MeasureSpec{"white_clipped_b", "", 0, 1, "share of the white plumage whose blue is clipped"},
    MeasureSpec{"white_recoverable", "", 0, 1, "share with one channel clipped: the others rebuild it"},
    MeasureSpec{"white_partly", "", 0, 1, "share with two channels clipped: drawing left, colour lost"},
    MeasureSpec{"white_gone", "", 0, 1, "share with every channel clipped: nothing left to recover"},
    MeasureSpec{"headroom_ev", "EV", 0, 16, "stops left between the brightest plumage and the clip"},
    MeasureSpec{"headroom_ev_r", "EV", 0, 16, "the same of red alone"},
    MeasureSpec{"headroom_ev_g", "EV", 0, 16, "the same of green alone"},
    MeasureSpec{"headroom_ev_b", "EV", 0, 16, "the same of blue alone"},
    MeasureSpec{"white_share", "", 0, 1, "share of the subject's box that is white plumage"},
};
constexpr std::array<const char*, 3> kClippedIds{"white_clipped_r", "white_clipped_g", "white_clipped_b"};
constexpr std::array<const char*, 3> kHeadroomIds{"headroom_ev_r", "headroom_ev_g", "headroom_ev_b"};

struct Tally {
  static constexpr int kBins = 2048;
  int sites = 0, white = 0;
  std::array<int, 3> clipped{};
  std::array<int, 4> together{};                      // by the number of clipped channels
  std::array<std::array<int, kBins>, 3> histogram{};  // of the white sites, 0..1 of the clip

  void add(const std::array<double, 3>& level, const std::array<double, 3>& gain) {
    ++sites;
    const WhiteSite site = white_site(level, gain);
    if (!site.white) return;
    ++white;
    ++together[static_cast<std::size_t>(site.clipped_channels())];
    for (std::size_t c = 0; c < 3; ++c) {
      clipped[c] += site.clipped[c];
      const int bin = std::clamp(static_cast<int>(level[c] * kBins), 0, kBins - 1);
      ++histogram[c][static_cast<std::size_t>(bin)];
    }
  }

  // Stops from the level that .5 % of the white sites exceed to the clip.
  double headroom(std::size_t channel) const {
    int above = 0, bin = kBins - 1;
    while (bin > 0 && (above += histogram[channel][static_cast<std::size_t>(bin)]) * 200 < white) --bin;
    const double top = (bin + .5) / kBins;
    return top >= kClip ? 0.0 : std::min(16.0, std::log2(1 / top));
  }
};

void report(const Tally& tally, double confidence, const std::string& basis, std::vector<Measure>& out) {
  if (tally.sites < kMinSites) return;
  const double share = static_cast<double>(tally.white) / tally.sites;
  out.push_back({"white_share", share, "", confidence, basis});
  if (tally.white < kMinSites || share < .01) return;
  // A small mask may be foam or a bill's glint.
  const double trust = confidence * std::clamp(share / .05, .4, 1.0);
  const auto fraction = [&](const char* id, int count) {
    out.push_back({id, static_cast<double>(count) / tally.white, "", trust, basis});
  };
  for (std::size_t c = 0; c < 3; ++c) fraction(kClippedIds[c], tally.clipped[c]);
  fraction("white_recoverable", tally.together[1]);
  fraction("white_partly", tally.together[2]);
  fraction("white_gone", tally.together[3]);
  double least = 16;
  for (std::size_t c = 0; c < 3; ++c) {
    const double ev = tally.headroom(c);
    least = std::min(least, ev);
    out.push_back({kHeadroomIds[c], ev, "EV", trust, basis});
  }
  out.push_back({"headroom_ev", least, "EV", trust, basis});
}

void from_pixels(const PixelInput& input, std::vector<Measure>& out) {
  const decode::Planes& p = *input.planes;
  const cv::Rect r = pixels_under(p, input.subject.box);
  if (r.empty()) return;
  // 60,000 samples put the standard error of a 1 % fraction at .04 %.
  const int step = std::max(1, static_cast<int>(std::sqrt(r.area() / 60'000.0)));
  Tally tally;
  const Outline outline(input.mask, p.orientation, p.luma.cols, p.luma.rows);
  const RenderedLevels levels(p);
  for (int y = r.y; y < r.br().y; y += step)
    for (int x = r.x; x < r.br().x; x += step)
      if (outline.animal(x, y)) tally.add(levels.at(y, x), {1, 1, 1});
  // Half: the rendering hides up to a stop of sensor headroom, or more.
  report(tally, .5, p.source, out);
}

void from_mosaic(const MosaicInput& input, std::vector<Measure>& out) {
  const decode::Mosaic& m = *input.mosaic;
  const Blocks blocks(m);
  if (!blocks.usable()) return;
  Tally tally;
  const Outline outline(input.mask, m);
  const int side = blocks.side();
  // 240,000 blocks put the standard error of a 1 % fraction at .02 %; another start per row spreads them (a
  // prime: 5 had every row start alike when every fifth block is looked at).
  const int step =
      std::max(1, static_cast<int>(blocks.rows() * static_cast<double>(blocks.cols()) / 240'000));
  for (int row = 0; row < blocks.rows(); ++row)
    for (int col = row % step * 7919 % step; col < blocks.cols(); col += step) {
      if (!outline.animal(m.sensor_x + col * side, m.sensor_y + row * side)) continue;
      BlockLevels b = blocks.at(row, col);
      // One clipped photosite of a colour clips the block: the mean would hide it.
      for (std::size_t c = 0; c < 3; ++c)
        b.mean[c] = std::clamp(b.top[c] >= kClip ? b.top[c] : b.mean[c], 0.0, 1.0);
      tally.add(b.mean, m.as_shot_gain);
    }
  report(tally, .95, "raw mosaic", out);
}

}  // namespace

extern const Instrument white_clipped{"white_clipped", kProduces, from_pixels, from_mosaic};

}  // namespace burstsieve::measure::instrument
