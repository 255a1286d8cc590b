// Exact block averages of 8-bit planes: the 1/8 image from which subject, hash and thumbnail are made.
#pragma once
#include <cstddef>
#include <cstdint>
#include <opencv2/core.hpp>

namespace burstsieve::image {

// One output row: the mean of every block of `block_w` x `rows` pixels, rounded half up, of a CV_8U strip.
// `first` points at the strip's first row, `step` is bytes between rows. The last block is as wide as what is
// left of `width`. `out` takes ceil(width / block_w) values. block_w and rows: 1..16.
void block_mean_row(const std::uint8_t* first, std::size_t step, int width, int rows, int block_w,
                    std::uint8_t* out);

// All of `plane` (CV_8UC1): ceil(cols / block_w) x ceil(rows / block_h). An empty plane gives an empty one.
cv::Mat block_means(const cv::Mat& plane, int block_w, int block_h);

// The readable definition of block_means, for tests.
cv::Mat block_means_slow(const cv::Mat& plane, int block_w, int block_h);

// block_means(plane, 8, 8).
cv::Mat eighth(const cv::Mat& plane);

}  // namespace burstsieve::image
