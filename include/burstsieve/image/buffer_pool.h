// Pixel buffers that are used again. Touching fresh memory costs more than the arithmetic done in it: a page
// fault per 4 KiB, 12,000 of them for the planes of one 24 MP frame.
#pragma once
#include <cstddef>
#include <opencv2/core.hpp>

namespace burstsieve::image {

// A picture with unspecified content, to be overwritten, whose memory goes back to a process-wide pool when
// its last user lets go, on whichever thread. Behaves as any other cv::Mat. Rows start at multiples of the
// natural step (continuous). Throws cv::Exception or std::bad_alloc when memory runs out, as cv::Mat does.
cv::Mat pooled(int rows, int cols, int type);

struct PoolState {
  std::size_t idle_bytes = 0;    // kept for the next user
  std::size_t in_use_bytes = 0;  // held by living pictures
  std::size_t allocations = 0;   // blocks taken from the system so far
};
PoolState pool_state();

// Gives idle memory back to the system.
void drain_pool();

}  // namespace burstsieve::image
