// dcraw (Debian) as an outside reader of raw values.
#pragma once
#include <cstdint>
#include <cstdio>
#include <opencv2/core.hpp>
#include <string>

namespace burstsieve::test {

// mode: "-D" values as they are, "-E" with the masked border. -4: 16 bits, -t 0: not turned, -c: to stdout, a
// binary PGM, big endian. Empty where dcraw fails.
inline cv::Mat by_dcraw(const std::string& path, const std::string& mode) {
  std::FILE* pipe = popen(("dcraw " + mode + " -4 -t 0 -c '" + path + "' 2>/dev/null").c_str(), "r");
  int width = 0, height = 0;
  cv::Mat out;
  if (pipe && std::fscanf(pipe, "P5 %d %d 65535", &width, &height) == 2) {
    std::fgetc(pipe);
    out.create(height, width, CV_16UC1);
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        const int high = std::fgetc(pipe);
        out.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(high << 8 | std::fgetc(pipe));
      }
  }
  if (pipe) pclose(pipe);
  return out;
}

}  // namespace burstsieve::test
