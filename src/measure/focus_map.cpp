#include "burstsieve/measure/focus_map.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"

namespace burstsieve::measure {
namespace {

constexpr int kAcross = 64;
constexpr int kLongest = 64;   // rows that are looked at down a column: beyond, memory is what it costs
constexpr int kFar = 16;       // px
constexpr int kLines = 8;      // rows of a cell that are looked at along, and columns likewise
constexpr int kStrongest = 3;  // of these lines answer
// Activity over the quiet level (its tenth percentile over single cells of 16 px): where less, noise is all
// there is. The mean of several such cells lies a sixth above that level without anything to see.
constexpr double kAlive = 1.15, kAliveMean = 1.3;

struct Steps {
  double near = 0, far = 0;  // largest difference over 1 and over 16 px, codes
};

// In bytes throughout: the compiler then takes sixteen pixels at a time.
std::uint8_t apart(std::uint8_t a, std::uint8_t b) {
  return static_cast<std::uint8_t>(std::max(a, b) - std::min(a, b));
}

// Along one row of a cell.
Steps along(const std::uint8_t* __restrict p, int count) {
  std::uint8_t near = 0, far = 0;
  for (int x = 0; x < count; ++x) near = std::max(near, apart(p[x + 1], p[x]));
  for (int x = 0; x < count; ++x) far = std::max(far, apart(p[x + kFar], p[x]));
  return {static_cast<double>(near), static_cast<double>(far)};
}

// Down kLines neighbouring columns of a cell, each for itself.
std::array<Steps, kLines> down(const cv::Mat& luma, int x0, int y0, int count) {
  std::array<std::uint8_t, kLines> near{}, far{};
  for (int y = y0; y < y0 + count; ++y) {
    const auto* __restrict a = luma.ptr<std::uint8_t>(y) + x0;
    const auto* __restrict b = luma.ptr<std::uint8_t>(y + 1) + x0;
    const auto* __restrict c = luma.ptr<std::uint8_t>(y + kFar) + x0;
    for (std::size_t i = 0; i < kLines; ++i) near[i] = std::max(near[i], apart(b[i], a[i]));
    for (std::size_t i = 0; i < kLines; ++i) far[i] = std::max(far[i], apart(c[i], a[i]));
  }
  std::array<Steps, kLines> out;
  for (std::size_t i = 0; i < kLines; ++i)
    out[i] = {static_cast<double>(near[i]), static_cast<double>(far[i])};
  return out;
}

Steps strongest(std::array<Steps, kLines> lines) {
  std::partial_sort(lines.begin(), lines.begin() + kStrongest, lines.end(),
                    [](const Steps& a, const Steps& b) { return a.far > b.far; });
  Steps out;
  for (int i = 0; i < kStrongest; ++i) {
    out.near += lines[static_cast<std::size_t>(i)].near / kStrongest;
    out.far += lines[static_cast<std::size_t>(i)].far / kStrongest;
  }
  return out;
}

// The direction with more contrast; `lies`: that is down the columns, so the edge itself lies.
Steps cell_steps(const cv::Mat& luma, int x0, int y0, int cell, bool& lies) {
  std::array<Steps, kLines> rows;
  const int run = std::min(cell, kLongest);
  for (int i = 0; i < kLines; ++i)
    rows[static_cast<std::size_t>(i)] = along(luma.ptr<std::uint8_t>(y0 + i * cell / kLines) + x0, cell);
  const Steps h = strongest(rows),
              v = strongest(down(luma, x0 + cell / 2 - kLines / 2, y0 + (cell - run) / 2, run));
  lies = v.far > h.far;
  return lies ? v : h;
}

// Width of the edge whose ratio of steps this is.
double sigma_of_ratio(double ratio) {
  static const auto table = [] {
    std::array<double, 200> t{};
    for (std::size_t i = 0; i < t.size(); ++i) {
      const double s = .05 * (static_cast<double>(i) + 6) * std::sqrt(2.0);
      t[i] = std::erf(.5 / s) / std::erf(kFar / 2 / s);
    }
    return t;
  }();
  const auto at = std::lower_bound(table.begin(), table.end(), ratio, std::greater<>());
  return .05 * (static_cast<double>(at - table.begin()) + 6);
}

double low_percentile(std::vector<double>& v, double share) {
  if (v.empty()) return 0;
  const auto at = v.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), at, v.end());
  return *at;
}

}  // namespace

FocusMap focus_map(const cv::Mat& luma, const cv::Mat& activity) {
  FocusMap out;
  if (luma.empty() || activity.empty()) return out;
  const int unit = image::kActivityCell;
  const int times = std::max(1, (std::max(luma.cols, luma.rows) + kAcross * unit / 2) / (kAcross * unit));
  out.cell = unit * times;
  // Cells without 16 px beyond them stay empty.
  const int cols = (luma.cols - kFar - 1) / out.cell, rows = (luma.rows - kFar - 1) / out.cell;
  if (cols < 4 || rows < 4) return {};
  const auto up = [&](int side) { return (side + out.cell - 1) / out.cell; };
  out.sigma = cv::Mat1f(up(luma.rows), up(luma.cols), -1.0f);
  out.weight = cv::Mat1f(out.sigma.size(), 0.0f);
  out.lies = cv::Mat1b(out.sigma.size(), static_cast<std::uint8_t>(0));
  cv::Mat1f near(rows, cols, 0.0f);
  const double quiet = image::quiet_level(activity);
  const int every = std::max(7, cols * rows / 200);
  std::vector<double> quiet_near;
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < cols; ++x) {
      double level = 0;
      for (int j = 0; j < times; ++j)
        for (int i = 0; i < times; ++i)
          level += static_cast<double>(activity.at<float>(y * times + j, x * times + i)) / (times * times);
      // Quiet cells tell the noise: some hundred of them will do.
      const bool alive = level > (times > 1 ? kAliveMean : kAlive) * quiet;
      if (!alive && (x + 3 * y) % every != 0) continue;
      bool lies = false;
      const Steps s = cell_steps(luma, x * out.cell, y * out.cell, out.cell, lies);
      quiet_near.push_back(s.near);
      if (!alive) continue;
      near(y, x) = static_cast<float>(s.near);
      out.weight(y, x) = static_cast<float>(s.far);
      out.lies(y, x) = lies;
    }
  const double noise = low_percentile(quiet_near, .1);
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < cols; ++x) {
      const double far = static_cast<double>(out.weight(y, x));
      // Below four times the noise, or a few codes of banding, nothing can be told.
      if (far < 4 * noise + 8) {
        out.weight(y, x) = 0;
        continue;
      }
      const auto freed = [noise](double v) { return std::sqrt(std::max(0.0, v * v - noise * noise)); };
      out.sigma(y, x) =
          static_cast<float>(sigma_of_ratio(freed(static_cast<double>(near(y, x))) / freed(far)));
    }
  return out;
}

FocusMap upright(const FocusMap& map, int orientation) {
  if (map.empty()) return map;
  FocusMap out;
  out.cell = map.cell;
  out.sigma = image::upright(map.sigma, orientation);
  out.weight = image::upright(map.weight, orientation);
  out.lies = image::upright(map.lies, orientation);
  if (swaps_sides(orientation)) out.lies = 1 - out.lies;
  return out;
}

}  // namespace burstsieve::measure
