// The members of each structure in their stored order, once for writing and reading (base/record.h). The
// structured bindings make a member that is added to a structure and forgotten here a compile error.
#pragma once
#include <concepts>
#include <type_traits>

#include "burstsieve/model/capture.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/region.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve {

// T is S or const S: the latter when writing.
template <class T, class S>
concept Is = std::same_as<std::remove_const_t<T>, S>;

constexpr DriveMode last_of(DriveMode) {
  return DriveMode::bracket;
}
constexpr Verdict last_of(Verdict) {
  return Verdict::reject;
}
constexpr HeadView last_of(HeadView) {
  return HeadView::hidden;
}
constexpr FileKind last_of(FileKind) {
  return FileKind::raw;
}

template <class Io, Is<Region> T>
void fields(Io& io, T& v) {
  auto& [x, y, w, h] = v;
  all(io, x, y, w, h);
}
template <class Io, Is<AfArea> T>
void fields(Io& io, T& v) {
  auto& [box, confidence, source] = v;
  all(io, box, confidence, source);
}
template <class Io, Is<SubjectDistance> T>
void fields(Io& io, T& v) {
  auto& [metres, nearest, farthest, source] = v;
  all(io, metres, nearest, farthest, source);
}
template <class Io, Is<Capture> T>
void fields(Io& io, T& v) {
  auto& [make, model, serial, lens, time_ms, subsecond_known, utc_offset_minutes, focal_mm, f_number,
         exposure_s, iso, pixel_pitch_um, distance, orientation, width, height, drive, sequence_number,
         shutter_count, file_number, af, notes] = v;
  all(io, make, model, serial, lens, time_ms, subsecond_known, utc_offset_minutes, focal_mm, f_number,
      exposure_s, iso, pixel_pitch_um, distance, orientation, width, height, drive, sequence_number,
      shutter_count, file_number, af, notes);
}
template <class Io, Is<FileRef> T>
void fields(Io& io, T& v) {
  auto& [path, kind, format, size, mtime_ns, fingerprint] = v;
  all(io, path, kind, format, size, mtime_ns, fingerprint);
}
template <class Io, Is<Frame> T>
void fields(Io& io, T& v) {
  auto& [raw, jpeg, copies, capture, jpeg_orientation] = v;
  all(io, raw, jpeg, copies, capture, jpeg_orientation);
}
template <class Io, Is<Subject> T>
void fields(Io& io, T& v) {
  auto& [box, head, confidence, source, measures, head_view, head_confidence, why] = v;
  all(io, box, head, confidence, source, measures, head_view, head_confidence, why);
}
template <class Io, Is<CellMask> T>
void fields(Io& io, T& v) {
  auto& [cols, rows, cells, where, confidence] = v;
  all(io, cols, rows, cells, where, confidence);
}
template <class Io, Is<Measure> T>
void fields(Io& io, T& v) {
  auto& [id, value, unit, confidence, basis] = v;
  all(io, id, value, unit, confidence, basis);
}
template <class Io, Is<PoseDescriptor> T>
void fields(Io& io, T& v) {
  auto& [hash, tile] = v;
  all(io, hash, tile);
}
// Without the thumbnail: who stores a frame stores that beside.
template <class Io, Is<FrameFacts> T>
void fields(Io& io, T& v) {
  auto& [decoded, damage, pixel_width, pixel_height, pixel_source, subjects, mask, measures, pose, thumbnail,
         notes] = v;
  static_cast<void>(thumbnail);
  all(io, decoded, damage, pixel_width, pixel_height, pixel_source, subjects, mask, measures, pose, notes);
}
template <class Io, Is<Reason> T>
void fields(Io& io, T& v) {
  auto& [code, text, value, unit, limit, confidence] = v;
  all(io, code, text, value, unit, limit, confidence);
}
template <class Io, Is<FrameVerdict> T>
void fields(Io& io, T& v) {
  auto& [verdict, rating, reasons, pose, place, better] = v;
  all(io, verdict, rating, reasons, pose, place, better);
}

}  // namespace burstsieve
