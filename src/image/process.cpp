#include "burstsieve/image/process.h"

#include <malloc.h>

#include <opencv2/core/utility.hpp>

namespace burstsieve::image {

void prepare_process() {
  cv::setNumThreads(1);
  mallopt(M_MMAP_THRESHOLD, 32 << 20);  // the most glibc takes; full-size planes have a pool of their own
  mallopt(M_TRIM_THRESHOLD, 256 << 20);
}

}  // namespace burstsieve::image
