// LibRaw, behind a door: one object per file and thread, single-threaded, silent, bounded.
#pragma once
#include <libraw/libraw.h>

#include <memory>
#include <opencv2/core.hpp>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "deadline.h"
#include "raw_stream.h"

namespace burstsieve::decode {

class RawFile {
 public:
  // Reads the headers. Errors: unsupported, truncated, corrupt, limit.
  static Result<RawFile> open(const std::string& path, const Limits& limits, const Deadline& deadline);

  const libraw_data_t& data() const { return raw_->imgdata; }
  // The visible sensor area, not turned.
  cv::Size visible() const { return {data().sizes.width, data().sizes.height}; }

  // True where the sensor grid stands at 45 degrees to the picture.
  bool diagonal() const { return raw_->is_fuji_rotated() != 0; }

  // The size LibRaw expects of its preview, 0 x 0 where it can't say without unpacking it.
  cv::Size preview_size() const { return {data().thumbnail.twidth, data().thumbnail.theight}; }
  // Loads it into data().thumbnail.
  Status load_preview();

  // Loads the sensor values. corrupt when they are all one value: LibRaw calls that a success.
  Status load_sensor();

  // Half-size picture, CV_8UC3 R,G,B, sRGB curve, camera white balance, fixed exposure, not turned.
  Result<cv::Mat> render_half();

 private:
  struct Watch;
  struct Deleter {
    void operator()(Watch* watch) const;
  };
  RawFile();
  Status status(int code, const char* doing) const;
  std::string path_;
  std::unique_ptr<Watch, Deleter> watch_;  // LibRaw's callbacks point at it
  std::unique_ptr<RawStream> stream_;      // before raw_, which reads from it
  std::unique_ptr<LibRaw> raw_;
};

}  // namespace burstsieve::decode
