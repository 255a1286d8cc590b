// The moment at which a decode gives up.
#pragma once
#include <chrono>

#include "burstsieve/base/limits.h"

namespace burstsieve::decode {

class Deadline {
 public:
  explicit Deadline(const Limits& limits)
      : end_(std::chrono::steady_clock::now() +
             std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                 std::chrono::duration<double>(limits.max_decode_seconds))) {}
  bool passed() const { return std::chrono::steady_clock::now() > end_; }

 private:
  std::chrono::steady_clock::time_point end_;
};

}  // namespace burstsieve::decode
