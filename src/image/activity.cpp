#include "burstsieve/image/activity.h"

#include <algorithm>
#include <cstdint>
#include <vector>

namespace burstsieve::image {
namespace {

// Adds the squared horizontal and vertical differences of one row to per-column sums. Plain arrays and no
// branches: the compiler turns this into vector code.
void add_row(const std::uint8_t* __restrict row, const std::uint8_t* __restrict below, int count,
             std::uint32_t* __restrict sums) {
  for (int x = 0; x < count; ++x) {
    const auto dx = static_cast<std::int16_t>(row[x + 1] - row[x]);
    const auto dy = static_cast<std::int16_t>(below[x] - row[x]);
    sums[x] += static_cast<std::uint32_t>(dx * dx + dy * dy);
  }
}

}  // namespace

cv::Mat activity_map(const cv::Mat& luma) {
  if (luma.rows < 2 || luma.cols < 2) return luma.empty() ? cv::Mat{} : cv::Mat::zeros(1, 1, CV_32F);
  const int rows = (luma.rows + kActivityCell - 1) / kActivityCell;
  const int cols = (luma.cols + kActivityCell - 1) / kActivityCell;
  cv::Mat out(rows, cols, CV_32F);
  std::vector<std::uint32_t> sums(static_cast<std::size_t>(luma.cols));
  const int usable = luma.cols - 1;  // the last column has no right neighbour
  for (int cell_row = 0; cell_row < rows; ++cell_row) {
    std::fill(sums.begin(), sums.end(), 0u);
    const int y_end = std::min((cell_row + 1) * kActivityCell, luma.rows - 1);
    int rows_read = 0;
    for (int y = cell_row * kActivityCell; y < y_end; y += 2, ++rows_read)
      add_row(luma.ptr<std::uint8_t>(y), luma.ptr<std::uint8_t>(y + 1), usable, sums.data());
    float* target = out.ptr<float>(cell_row);
    for (int cell = 0; cell < cols; ++cell) {
      const int x0 = cell * kActivityCell;
      const int x1 = std::min(x0 + kActivityCell, usable);
      std::uint64_t total = 0;
      for (int x = x0; x < x1; ++x) total += sums[static_cast<std::size_t>(x)];
      const int pixels = rows_read * std::max(0, x1 - x0);
      target[cell] = pixels > 0 ? static_cast<float>(static_cast<double>(total) / pixels) : 0.0f;
    }
  }
  return out;
}

double quiet_level(const cv::Mat& activity) {
  std::vector<float> cells;
  cells.reserve(activity.total());
  for (int y = 0; y < activity.rows; ++y)
    for (int x = 0; x < activity.cols; ++x)
      if (const float v = activity.at<float>(y, x); v > 0) cells.push_back(v);
  if (cells.empty()) return 0;
  const auto tenth = cells.begin() + static_cast<std::ptrdiff_t>(cells.size() / 10);
  std::nth_element(cells.begin(), tenth, cells.end());
  return *tenth;
}

}  // namespace burstsieve::image
