#include "burst.h"

#include "burstsieve/decode/metadata.h"
#include "burstsieve/pipeline/frame_work.h"
#include "burstsieve/subject/detector.h"
#include "cpu_clock.h"

namespace burstsieve::bench {
namespace {

struct Spent {
  double decode = 0, all = 0;
  std::string damage;
};

Spent path_of(const Frame& frame, pipeline::Trail& trail, subject::DetectorPool* detectors,
              std::size_t place) {
  Spent out;
  const double start = cpu_ms();
  const auto work = pipeline::FrameWork::decoded(frame, Limits{}, detectors, pipeline::look_of(place));
  out.decode = cpu_ms() - start;
  work->follow(trail);
  out.damage = work->measured(frame).damage;
  out.all = cpu_ms() - start;
  return out;
}

}  // namespace

Result<BurstCost> burst_cost(const std::vector<FileRef>& files, subject::DetectorPool& detectors) {
  BurstCost out;
  pipeline::Trail without, with;
  for (std::size_t i = 0; i < files.size(); ++i) {
    Frame frame;
    auto capture = decode::read_capture(files[i], Limits{});
    if (!capture) return capture.error();
    frame.capture = std::move(*capture);
    frame.jpeg_orientation = frame.capture.orientation;
    (files[i].kind == FileKind::raw ? frame.raw : frame.jpeg) = files[i];
    if (i == 0) {  // fills the buffer pool and makes the networks
      pipeline::Trail first;
      path_of(frame, first, &detectors, 0);
    }
    const Spent a = path_of(frame, without, nullptr, i), b = path_of(frame, with, &detectors, i);
    if (!a.damage.empty()) return Error{Cause::corrupt, files[i].path, a.damage};
    out.decode_ms += a.decode;
    out.all_ms += a.all;
    out.added_ms += b.all - a.all;
  }
  const auto n = static_cast<double>(files.size());
  return BurstCost{out.decode_ms / n, out.all_ms / n, out.added_ms / n};
}

}  // namespace burstsieve::bench
