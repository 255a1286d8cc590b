#include "ours.h"

#include "burstsieve/decode/metadata.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/subject/detector.h"
#include "cpu_clock.h"

namespace burstsieve::bench {

Result<FrameCost> run_frame_path(const FileRef& file, pipeline::Trail& trail, bool contender,
                                 const Limits& limits, subject::DetectorPool* detectors) {
  FrameCost out;
  double mark = cpu_ms();
  const auto lap = [&](double& into) {
    const double now = cpu_ms();
    into = now - mark;
    mark = now;
  };
  Frame frame;
  auto capture = decode::read_capture(file, limits);
  if (!capture) return capture.error();
  frame.capture = std::move(*capture);
  (file.kind == FileKind::raw ? frame.raw : frame.jpeg) = file;
  lap(out.metadata);
  auto work = pipeline::FrameWork::decoded(frame, limits);
  work->follow(trail);
  lap(out.decode);
  FrameFacts facts = work->measured(frame);
  lap(out.measure);
  if (!facts.damage.empty()) return Error{Cause::corrupt, file.path, facts.damage};
  if (contender) {
    pipeline::measure_highlights(frame, facts, limits);
    lap(out.highlights);
  }
  if (detectors != nullptr) {
    const auto planes = decode::decode_planes(file, 1, limits);
    if (!planes) return planes.error();
    const auto eighth = decode::eighth_colour(*planes);
    mark = cpu_ms();
    const auto found = detectors->detect(decode::picture_of(*planes, eighth, subject::kDetectorSide));
    if (!found) return found.error();
    lap(out.detector);
  }
  out.width = facts.pixel_width;
  out.height = facts.pixel_height;
  out.measures = facts.measures.size() + facts.thumbnail.size();
  return out;
}

}  // namespace burstsieve::bench
