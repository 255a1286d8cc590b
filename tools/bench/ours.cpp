#include "ours.h"

#include "burstsieve/decode/metadata.h"
#include "cpu_clock.h"

namespace burstsieve::bench {

Result<FrameCost> run_frame_path(const FileRef& file, pipeline::Trail& trail, bool contender,
                                 const Limits& limits) {
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
  out.width = facts.pixel_width;
  out.height = facts.pixel_height;
  out.measures = facts.measures.size() + facts.thumbnail.size();
  return out;
}

}  // namespace burstsieve::bench
