#include "burstsieve/image/threads.h"

#include <opencv2/core/utility.hpp>

namespace burstsieve::image {

void use_callers_thread_only() { cv::setNumThreads(1); }

}  // namespace burstsieve::image
