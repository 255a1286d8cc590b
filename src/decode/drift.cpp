#include "drift.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <vector>

namespace burstsieve::decode {
namespace {

constexpr float kClip = 32;     // levels; a step's outliers must not count more
constexpr double kSpreads = 8;  // times the spread of the same number elsewhere in the picture
// Units across and down; fewer (a thumbnail) say too little about "elsewhere".
constexpr std::size_t kColumns = 28, kRows = 16, kColumnsForPart = 40;

// One way of looking for a step.
struct Search {
  std::size_t window;  // units that must show it
  double least;        // levels; less can't be seen, and texture makes as much
  double share;        // of the units in the window that take part
};

// For each unit, in the order of the scan, its step against the one above: the jump of the values there less
// the slope on both sides. 0 in the first row.
std::vector<float> steps_of(const cv::Mat& plane, cv::Size mcu) {
  const int columns = (plane.cols + mcu.width - 1) / mcu.width,
            rows = (plane.rows + mcu.height - 1) / mcu.height;
  std::vector<float> out(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows), 0.f);
  std::vector<std::int16_t> line(static_cast<std::size_t>(columns * mcu.width), 0);
  for (int r = 1; r < rows; ++r) {
    const int y = r * mcu.height;
    if (y + 8 > plane.rows) break;
    const std::uint8_t *a = plane.ptr(y - 2), *b = plane.ptr(y - 1), *c = plane.ptr(y), *d = plane.ptr(y + 1);
    for (int x = 0; x < plane.cols; ++x)
      line[static_cast<std::size_t>(x)] = static_cast<std::int16_t>(3 * (c[x] - b[x]) + a[x] - d[x]);
    float* step = out.data() + r * columns;
    for (int k = 0; k < columns; ++k) {
      const std::int16_t* unit = line.data() + k * mcu.width;
      int sum = 0;
      for (int x = 0; x < mcu.width; ++x) sum += unit[x];
      const int width = std::min(mcu.width, plane.cols - k * mcu.width);
      step[k] = static_cast<float>(sum) / static_cast<float>(2 * width);
    }
  }
  return out;
}

double median(std::vector<float> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// Means of clipped steps over any run of units.
class Means {
 public:
  explicit Means(const std::vector<float>& steps) : sums_(steps.size() + 1, 0.f) {
    double sum = 0;
    for (std::size_t i = 0; i < steps.size(); ++i) {
      sum += std::clamp(steps[i], -kClip, kClip);
      sums_[i + 1] = sum;
    }
  }
  std::size_t units() const { return sums_.size() - 1; }
  double of(std::size_t from, std::size_t window) const {
    return (sums_[from + window] - sums_[from]) / static_cast<double>(window);
  }

 private:
  std::vector<double> sums_;
};

// How large the mean of a window is anyway, in this picture.
double spread_of(const Means& means, std::size_t window) {
  std::vector<float> sizes;
  for (std::size_t i = 0; i + window <= means.units(); i += window / 3 + 1)
    sizes.push_back(static_cast<float>(std::abs(means.of(i, window))));
  return 1.4826 * median(std::move(sizes));
}

// `window` may reach beyond the last unit.
bool is_step(const std::vector<float>& steps, std::size_t from, const Search& search, std::size_t units) {
  const std::size_t window = std::min(search.window, units - from);
  const std::vector<float> part(steps.begin() + static_cast<std::ptrdiff_t>(from),
                                steps.begin() + static_cast<std::ptrdiff_t>(from + window));
  const double middle = median(part);
  if (std::abs(middle) < search.least) return false;
  const auto take_part =
      std::count_if(part.begin(), part.end(), [&](float s) { return s * middle >= .4 * middle * middle; });
  return static_cast<double>(take_part) >= search.share * static_cast<double>(window);
}

// A bar without contents, as somebody draws it round a picture.
bool is_bar(const cv::Mat& rows) {
  int differ = 0;
  for (int y = 0; y < rows.rows; ++y)
    for (int x = 1; x < rows.cols; ++x)
      differ += rows.at<std::uint8_t>(y, x) != rows.at<std::uint8_t>(y, x - 1);
  return differ < .02 * static_cast<double>(rows.total());
}

// Is the step that begins in this unit the edge of a bar? It may lie above its row or the next.
bool edge_of_a_bar(const cv::Mat& plane, std::size_t unit, std::size_t columns, int height) {
  for (const std::size_t row : {unit / columns, unit / columns + 1}) {
    const int y = static_cast<int>(row) * height;
    if (y > 0 && y < plane.rows &&
        (is_bar(plane.rowRange(y - height, y)) ||
         is_bar(plane.rowRange(y, std::min(plane.rows, y + height)))))
      return true;
  }
  return false;
}

std::optional<int> search_step(const cv::Mat& plane, cv::Size mcu, const std::vector<float>& steps,
                               const Means& means, std::size_t units, std::size_t columns,
                               const Search& search) {
  const double needed = std::max(.6 * search.least, kSpreads * spread_of(means, search.window));
  const std::size_t last = std::min(units, means.units() - search.window + 1);
  const auto size_at = [&](std::size_t i) { return std::abs(means.of(i, search.window)); };
  // A hill is two windows wide: in strides of an eighth none is missed by more than a sixteenth of its
  // height.
  const std::size_t stride = std::max<std::size_t>(1, search.window / 8);
  for (std::size_t i = columns / 2; i < last; i += stride) {
    if (size_at(i) < .9 * needed) continue;
    // The whole hill, whose top is where the drift begins.
    std::size_t top = i;
    for (std::size_t k = i - std::min(i, stride); k < std::min(last, i + search.window); ++k)
      if (size_at(k) > size_at(top)) top = k;
    if (size_at(top) >= needed && is_step(steps, top, search, units) &&
        !edge_of_a_bar(plane, top, columns, mcu.height))
      return static_cast<int>(top / columns) * mcu.height;
    i = std::max(i, top + search.window / 2);
  }
  return std::nullopt;
}

}  // namespace

std::optional<int> drift_row(const cv::Mat& plane, cv::Size mcu) {
  const auto columns = static_cast<std::size_t>((plane.cols + mcu.width - 1) / mcu.width);
  const auto rows = static_cast<std::size_t>((plane.rows + mcu.height - 1) / mcu.height);
  if (rows < kRows || columns < kColumns) return std::nullopt;
  auto steps = steps_of(plane, mcu);
  const std::size_t units = steps.size();
  steps.resize(units + columns / 2, 0.f);  // a drift in the last row has only its beginning there
  const Means means(steps);
  if (const auto at = search_step(plane, mcu, steps, means, units, columns, {columns, 3, .75})) return at;
  // Drifts that follow each other closely show plainly on a part of a row. In a small picture a part is too
  // few units.
  if (columns >= kColumnsForPart)
    return search_step(plane, mcu, steps, means, units, columns, {columns / 3, 6, .9});
  return std::nullopt;
}

bool table_is_torn(const std::array<std::uint16_t, 64>& table) {
  for (int y = 0; y < 8; ++y)
    for (int x = 0; x < 8; ++x) {
      double logs = 0;
      int count = 0;
      const auto at = [&](int i, int j) { return table[static_cast<std::size_t>(i * 8 + j)]; };
      if (at(y, x) == 0) return true;
      for (const auto& [dy, dx] : {std::pair{-1, 0}, {1, 0}, {0, -1}, {0, 1}}) {
        const int i = y + dy, j = x + dx;
        if (i < 0 || j < 0 || i > 7 || j > 7) continue;
        logs += std::log2(static_cast<double>(std::max<int>(at(i, j), 1)));
        ++count;
      }
      if (std::abs(std::log2(static_cast<double>(at(y, x))) - logs / count) > 3) return true;
    }
  return false;
}

}  // namespace burstsieve::decode
