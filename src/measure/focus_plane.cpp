#include <algorithm>
#include <cmath>
#include <vector>

#include "burstsieve/measure/focus_map.h"

namespace burstsieve::measure {
namespace {

constexpr double kSharpRatio = 1.7;  // against the sharpest twentieth
constexpr double kBest = .6;         // px: below, sampling decides, not focus
constexpr double kInside = .85;      // of the box: the ellipse that is taken for the animal
constexpr double kClear = .2;        // of the box's height: less is no place to measure
constexpr int kBelow = 3;            // rows that a streak must go on below the subject's box
constexpr double kOwn = .22;         // share of own sharp cells from which the subject is in focus
constexpr int kLying = 2;            // lying sharp edges in the subject, and
constexpr int kLyingInAll = 8;       // the same where the rest of the frame is sharp all over
constexpr double kLyingMore = 1.3;   // how many times those expected, that do it, too
constexpr int kFewest = 12;          // sharp cells that make a plane
constexpr double kFoot = 1 / 12.0;   // of the frame's height
// Tuned on the generated depth scenes of seed 1 (tests/measure/focus_plane_test.cpp holds others out).
constexpr double kReachesFoot = .05, kHighUp = .3, kAllOver = .4;
// Of the sharp cells: those above the subject's feet, for the plane to count as lying beside it. A sharp
// thing that merely begins there is mostly nearer: with a single cell 24 of 52 such pictures were laid to the
// wrong side, with .3, .4 and .5 of them 8, 3 and 2 (tests/measure/real_focus_test.cpp), while 0, 5 and 16 of
// 600 depth scenes were no longer told.
constexpr double kBeside = .4;

float quantile_of(std::vector<float> v, double share) {
  if (v.empty()) return 0;
  const auto at = v.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), at, v.end());
  return *at;
}

// The subject's place in cells.
struct Place {
  cv::Rect box;
  double cx = 0, cy = 0, rx = 0, ry = 0;
  Place(const Region& r, cv::Size map) {
    const auto cell = [](double v, int n) { return std::clamp(static_cast<int>(v * n), 0, n - 1); };
    const cv::Point from(cell(r.x, map.width), cell(r.y, map.height));
    const cv::Point to(cell(r.right() - 1e-9, map.width) + 1, cell(r.bottom() - 1e-9, map.height) + 1);
    box = {from, to};
    cx = r.centre_x() * map.width, cy = r.centre_y() * map.height;
    rx = std::max(.5, r.w * map.width / 2), ry = std::max(.5, r.h * map.height / 2);
  }
  bool inside(int x, int y, double scale) const {
    const double u = (x + .5 - cx) / (scale * rx), v = (y + .5 - cy) / (scale * ry);
    return u * u + v * v <= 1;
  }
};

// Sharp cells from which sharp cells lead downwards, a column to either side per row and one row left out at
// most, to kBelow rows under the box.
cv::Mat1b streaks(const cv::Mat1b& sharp, const cv::Mat1b& lies, const cv::Rect& box) {
  cv::Mat1b out(sharp.size(), static_cast<std::uint8_t>(0));
  const int start = box.br().y + kBelow - 1;
  if (start >= sharp.rows) return out;
  for (int y = start; y >= 0; --y)
    for (int x = 0; x < sharp.cols; ++x) {
      if (!sharp(y, x) || lies(y, x)) continue;
      bool leads = y == start || y == start - 1;
      for (int dy = 1; dy <= 2 && !leads && y + dy <= start; ++dy)
        for (int dx = -1; dx <= 1 && !leads; ++dx)
          leads = x + dx >= 0 && x + dx < sharp.cols && out(y + dy, x + dx) != 0;
      out(y, x) = leads;
    }
  return out;
}

// Around the middle nine tenths of the cells in each direction: stragglers must not make it the whole frame.
Region around(const std::vector<cv::Point>& cells, cv::Size map) {
  if (cells.empty()) return {};
  std::vector<float> xs, ys;
  for (const cv::Point& c : cells)
    xs.push_back(static_cast<float>(c.x)), ys.push_back(static_cast<float>(c.y));
  const double x0 = quantile_of(xs, .05), x1 = quantile_of(xs, .95) + 1.0;
  const double y0 = quantile_of(ys, .05), y1 = quantile_of(ys, .95) + 1.0;
  return {x0 / map.width, y0 / map.height, (x1 - x0) / map.width, (y1 - y0) / map.height};
}

}  // namespace

FocusPlane focus_plane(const FocusMap& map, const Region& region) {
  FocusPlane out;
  const Region r = clamped(region);
  out.clear = r;
  if (map.empty() || r.empty()) return out;
  const cv::Size size = map.sigma.size();
  std::vector<float> all;
  for (const float s : map.sigma)
    if (s >= 0) all.push_back(s);
  if (all.size() < 2 * kFewest) return out;
  std::nth_element(all.begin(), all.begin() + kFewest, all.end());
  out.sharp_sigma = kSharpRatio * std::max<double>(kBest, all[kFewest]);
  cv::Mat1b sharp;
  cv::inRange(map.sigma, 0, out.sharp_sigma, sharp);
  const Place subject(r, size);
  const cv::Mat1b streak = streaks(sharp, map.lies, subject.box);

  // The subject's own cells.
  std::vector<float> own;
  int own_sharp = 0, own_all = 0, ellipse = 0;
  for (int y = subject.box.y; y < subject.box.br().y; ++y)
    for (int x = subject.box.x; x < subject.box.br().x; ++x) {
      if (!subject.inside(x, y, kInside)) continue;
      ++ellipse;
      out.lying += sharp(y, x) && map.lies(y, x);
      if (map.sigma(y, x) < 0 || streak(y, x)) continue;
      ++own_all;
      own_sharp += sharp(y, x) != 0;
      own.push_back(map.sigma(y, x));
    }
  out.own_share = own_all > 0 ? static_cast<double>(own_sharp) / own_all : 0;
  out.own_sigma = own_all > 0 ? static_cast<double>(quantile_of(own, .5)) : 0;

  // Elsewhere.
  std::vector<cv::Point> outside;
  int cells = 0, outside_all = 0, lying = 0, above = 0, beside = 0, at_foot = 0,
      first_crossed = subject.box.br().y;
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      if (subject.box.contains({x, y})) {
        if (streak(y, x) && subject.inside(x, y, kInside)) first_crossed = std::min(first_crossed, y);
        continue;
      }
      ++cells;
      outside_all += map.sigma(y, x) >= 0;
      if (!sharp(y, x)) continue;
      outside.emplace_back(x, y);
      lying += map.lies(y, x);
      above += y + .5 < subject.cy;
      beside += y + .5 < subject.cy + subject.ry;
      at_foot += y + .5 > (1 - kFoot) * size.height;
    }
  out.place = around(outside, size);
  const double n = std::max<double>(1, static_cast<double>(outside.size()));
  out.above = above / n;
  out.at_foot = at_foot / n;
  out.lying_expected = cells > 0 ? static_cast<double>(ellipse) * lying / cells : 0;

  if (own_all == 0 && outside.size() < kFewest) return out;
  const double seen = std::clamp(own_all / 20.0, .3, 1.0);
  // A frame that is sharp all over shows through wherever the ellipse is not animal.
  const double outside_share = outside_all > 0 ? n / outside_all : 0;
  const double by_share = out.own_share / std::max(kOwn, outside_share);
  const double by_lying =
      std::min<double>(out.lying / static_cast<double>(out.above < kAllOver ? kLying : kLyingInAll),
                       out.lying / std::max(1.0, kLyingMore * out.lying_expected));
  const double own_proof = std::max(by_share, by_lying);
  if (own_proof >= 1 || outside.size() < kFewest) {
    out.side = FocusSide::subject;
    out.confidence = seen * std::clamp(.4 + .5 * (own_proof - 1), .2, .95);
    return out;
  }
  const double enough = std::clamp(static_cast<double>(outside.size()) / 40, .4, 1.0);
  out.confidence = .95 * enough * seen * std::clamp(1.3 - own_proof, .3, 1.0);
  const bool foot = out.at_foot >= kReachesFoot;
  if (foot && out.above < kHighUp) {
    out.side = FocusSide::before;
    // Only what comes from below crosses; above it the subject stands free.
    if (first_crossed < subject.box.br().y)
      out.clear.h = static_cast<double>(first_crossed) / size.height - out.clear.y;
    if (out.clear.h < kClear * r.h) out.clear = {};
  } else if (out.above >= kAllOver || (!foot && beside >= kBeside * n)) {
    out.side = FocusSide::behind;
    // What is behind shows at the box's corners and between legs; its middle is animal if anything is.
    out.clear = {r.x + r.w / 4, r.y + r.h / 4, r.w / 2, r.h / 2};
  } else {
    out.side = FocusSide::elsewhere;
  }
  return out;
}

}  // namespace burstsieve::measure
