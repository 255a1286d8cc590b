// Words that several reports share.
#pragma once
#include <fmt/format.h>

#include <cstddef>
#include <string>

namespace burstsieve::report {

// "1 frame", "2 frames".
inline std::string counted(std::size_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

}  // namespace burstsieve::report
