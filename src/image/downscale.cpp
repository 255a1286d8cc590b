#include "burstsieve/image/downscale.h"

#include <algorithm>
#include <array>
#if defined(__SSE2__)
#include <emmintrin.h>
#endif

#include "burstsieve/image/buffer_pool.h"

namespace burstsieve::image {
namespace {

constexpr int kChunk = 2048;  // columns summed at once: 4 KiB of sums stay in the first-level cache
constexpr int kMaxBlock = 16;

// Column sums of `rows` rows. 16 rows of 255 fit 16 bits.
void sum_columns(const std::uint8_t* first, std::size_t step, int width, int rows, std::uint16_t* sums) {
  std::fill_n(sums, width, std::uint16_t{0});
  int y = 0;
  for (; y + 4 <= rows; y += 4) {
    const std::uint8_t* a = first + static_cast<std::size_t>(y) * step;
    const std::uint8_t* b = a + step;
    const std::uint8_t* c = b + step;
    const std::uint8_t* d = c + step;
    for (int x = 0; x < width; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + a[x] + b[x] + c[x] + d[x]);
  }
  for (; y < rows; ++y) {
    const std::uint8_t* a = first + static_cast<std::size_t>(y) * step;
    for (int x = 0; x < width; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + a[x]);
  }
}

std::uint8_t mean(unsigned sum, unsigned count) {
  return static_cast<std::uint8_t>((sum + count / 2) / count);
}

// Means of whole blocks whose width and pixel count are powers of two known to the compiler.
template <int width, unsigned count>
void whole_blocks(const std::uint16_t* sums, int blocks, std::uint8_t* out) {
  for (int i = 0; i < blocks; ++i) {
    unsigned sum = 0;
    for (int k = 0; k < width; ++k) sum += sums[i * width + k];
    out[i] = mean(sum, count);
  }
}

#if defined(__SSE2__)
// Rows of whole 8x8 blocks: the instruction that sums absolute differences from zero adds 8 bytes at once.
// Returns the number of columns done.
int means_8x8(const std::uint8_t* first, std::size_t step, int width, std::uint8_t* out) {
  const __m128i zero = _mm_setzero_si128();
  int x = 0;
  for (; x + 16 <= width; x += 16, out += 2) {
    __m128i sum = zero;
    for (std::size_t y = 0; y < 8; ++y) {
      const auto* at = reinterpret_cast<const __m128i*>(first + y * step + x);
      sum = _mm_add_epi64(sum, _mm_sad_epu8(_mm_loadu_si128(at), zero));
    }
    out[0] = static_cast<std::uint8_t>((_mm_cvtsi128_si32(sum) + 32) >> 6);
    out[1] = static_cast<std::uint8_t>((_mm_extract_epi16(sum, 4) + 32) >> 6);
  }
  return x;
}
#else
int means_8x8(const std::uint8_t*, std::size_t, int, std::uint8_t*) {
  return 0;
}
#endif

void means_of_sums(const std::uint16_t* sums, int blocks, int block_w, int rows, std::uint8_t* out) {
  if (block_w == 8 && rows == 8) return whole_blocks<8, 64>(sums, blocks, out);
  if (block_w == 4 && rows == 8) return whole_blocks<4, 32>(sums, blocks, out);
  if (block_w == 4 && rows == 4) return whole_blocks<4, 16>(sums, blocks, out);
  const auto count = static_cast<unsigned>(block_w * rows);
  for (int i = 0; i < blocks; ++i) {
    unsigned sum = 0;
    for (int k = 0; k < block_w; ++k) sum += sums[i * block_w + k];
    out[i] = mean(sum, count);
  }
}

}  // namespace

void block_mean_row(const std::uint8_t* first, std::size_t step, int width, int rows, int block_w,
                    std::uint8_t* out) {
  CV_Assert(rows >= 1 && rows <= kMaxBlock && block_w >= 1 && block_w <= kMaxBlock);
  alignas(64) std::array<std::uint16_t, kChunk> sums;
  const int blocks_per_chunk = kChunk / block_w;
  const int chunk = blocks_per_chunk * block_w;
  const int done = block_w == 8 && rows == 8 ? means_8x8(first, step, width, out) : 0;
  out += done / block_w;
  for (int x = done; x < width; x += chunk, out += blocks_per_chunk) {
    const int columns = std::min(chunk, width - x);
    sum_columns(first + x, step, columns, rows, sums.data());
    const int whole = columns / block_w;
    means_of_sums(sums.data(), whole, block_w, rows, out);
    if (const int rest = columns - whole * block_w; rest > 0)
      means_of_sums(sums.data() + whole * block_w, 1, rest, rows, out + whole);
  }
}

cv::Mat block_means(const cv::Mat& plane, int block_w, int block_h) {
  if (plane.empty()) return {};
  CV_Assert(plane.type() == CV_8UC1);
  cv::Mat out = pooled((plane.rows + block_h - 1) / block_h, (plane.cols + block_w - 1) / block_w, CV_8UC1);
  for (int y = 0; y < out.rows; ++y)
    block_mean_row(plane.ptr(y * block_h), plane.step, plane.cols,
                   std::min(block_h, plane.rows - y * block_h), block_w, out.ptr(y));
  return out;
}

cv::Mat block_means_slow(const cv::Mat& plane, int block_w, int block_h) {
  if (plane.empty()) return {};
  cv::Mat out((plane.rows + block_h - 1) / block_h, (plane.cols + block_w - 1) / block_w, CV_8UC1);
  for (int by = 0; by < out.rows; ++by)
    for (int bx = 0; bx < out.cols; ++bx) {
      int sum = 0;
      int count = 0;
      for (int y = by * block_h; y < std::min(plane.rows, (by + 1) * block_h); ++y)
        for (int x = bx * block_w; x < std::min(plane.cols, (bx + 1) * block_w); ++x) {
          sum += plane.at<std::uint8_t>(y, x);
          ++count;
        }
      out.at<std::uint8_t>(by, bx) = static_cast<std::uint8_t>((2 * sum + count) / (2 * count));
    }
  return out;
}

cv::Mat eighth(const cv::Mat& plane) {
  return block_means(plane, 8, 8);
}

}  // namespace burstsieve::image
