#include "ours.h"

#include "burstsieve/decode/pixels.h"
#include "cpu_clock.h"

namespace burstsieve::bench {

Result<FrameWork> run_frame_path(const FileRef& file, int orientation, const Region& subject,
                                 const Limits& limits) {
  auto planes = decode::decode_planes(file, orientation, limits);
  if (!planes) return planes.error();
  const cv::Mat eighth = decode::eighth_colour(*planes);
  const decode::Crop crop = decode::crop_luma(*planes, subject);
  const ByteBuffer thumbnail = decode::thumbnail(*planes, eighth);
  FrameWork out{planes->full_per_pixel, planes->upright_width(), planes->upright_height(), thumbnail.size()};
  if (!crop.luma.empty()) out.checksum += crop.luma.at<std::uint8_t>(crop.luma.rows - 1, crop.luma.cols - 1);
  return out;
}

Result<FrameSplit> split_frame_path(const FileRef& file, int orientation, const Region& subject,
                                    const Limits& limits) {
  FrameSplit out;
  double mark = cpu_ms();
  const auto lap = [&](double& into) {
    const double now = cpu_ms();
    into = now - mark;
    mark = now;
  };
  auto planes = decode::decode_planes(file, orientation, limits);
  if (!planes) return planes.error();
  lap(out.decode);
  const cv::Mat eighth = decode::eighth_colour(*planes);
  lap(out.eighth);
  const decode::Crop crop = decode::crop_luma(*planes, subject);
  lap(out.crop);
  const ByteBuffer thumbnail = decode::thumbnail(*planes, eighth);
  lap(out.thumbnail);
  return out;
}

}  // namespace burstsieve::bench
