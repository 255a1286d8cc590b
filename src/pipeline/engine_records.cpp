#include "engine_records.h"

#include <utility>

#include "burstsieve/base/record.h"
#include "burstsieve/base/text.h"
#include "burstsieve/model/fields.h"

namespace burstsieve {

constexpr Cause last_of(Cause) {
  return Cause::memory;
}

template <class Io, Is<Limits> T>
void fields(Io& io, T& v) {
  auto& [max_pixels, max_side, max_file_bytes, max_decode_seconds, max_jpeg_scans, max_folder_depth,
         max_files] = v;
  all(io, max_pixels, max_side, max_file_bytes, max_decode_seconds, max_jpeg_scans, max_folder_depth,
      max_files);
}

}  // namespace burstsieve

namespace burstsieve::pipeline {

template <class Io, Is<Candidate> T>
void fields(Io& io, T& v) {
  auto& [path, size, mtime_ns] = v;
  all(io, path, size, mtime_ns);
}
template <class Io, Is<Identity> T>
void fields(Io& io, T& v) {
  auto& [kind, format, fingerprint] = v;
  all(io, kind, format, fingerprint);
}
template <class Io, Is<Mishap> T>
void fields(Io& io, T& v) {
  auto& [item, step, text, passing] = v;
  all(io, item, step, text, passing);
}
template <class Io, Is<BurstTask> T>
void fields(Io& io, T& v) {
  auto& [frames, mishaps, one_by_one] = v;
  all(io, frames, mishaps, one_by_one);
}
template <class Io, Is<Hello> T>
void fields(Io& io, T& v) {
  auto& [protocol, threads, limits, memory_bytes, detector] = v;
  all(io, protocol, threads, limits, memory_bytes, detector);
}
template <class Io, Is<Ready> T>
void fields(Io& io, T& v) {
  auto& [sandboxed, why_not, detector, why_no_detector] = v;
  all(io, sandboxed, why_not, detector, why_no_detector);
}
template <class Io, Is<Place> T>
void fields(Io& io, T& v) {
  auto& [task, item, step] = v;
  all(io, task, item, step);
}
template <class Io, Is<IdentityAnswer> T>
void fields(Io& io, T& v) {
  auto& [value, cause, text] = v;
  all(io, value, cause, text);
}
template <class Io, Is<CaptureAnswer> T>
void fields(Io& io, T& v) {
  auto& [value, cause, text] = v;
  all(io, value, cause, text);
}
template <class Io, Is<RenderTask> T>
void fields(Io& io, T& v) {
  auto& [frame, region, side, quality] = v;
  all(io, frame, region, side, quality);
}
template <class Io, Is<Rendering> T>
void fields(Io& io, T& v) {
  auto& [jpeg, width, height, region, full_width, full_height] = v;
  all(io, jpeg, width, height, region, full_width, full_height);
}
template <class Io, Is<RenderAnswer> T>
void fields(Io& io, T& v) {
  auto& [value, cause, text] = v;
  all(io, value, cause, text);
}
template <class Io, Is<FactsRecord> T>
void fields(Io& io, T& v) {
  auto& [facts, thumbnail] = v;
  all(io, facts, thumbnail);
}
template <class Io, Is<BurstEnd> T>
void fields(Io& io, T& v) {
  auto& [mosaics, passing, starved] = v;
  all(io, mosaics, passing, starved);
}

namespace {

template <class T>
ByteBuffer written(const T& v) {
  RecordWriter w;
  w.item(v);
  return w.take();
}

template <class T>
bool was_read(Bytes payload, T& out) {
  RecordReader in(payload);
  in.item(out);
  return in.ok() && in.at_end();
}

void clean(std::string& text) {
  text = one_line(text);
}

bool within_frame(const Region& r) {
  constexpr double slack = 1e-9;  // sums of rounded parts
  return r.x >= -slack && r.y >= -slack && r.w >= 0 && r.h >= 0 && r.right() <= 1 + slack &&
         r.bottom() <= 1 + slack;
}

bool sane(SubjectDistance& d) {
  clean(d.source);
  return d.metres > 0 && d.nearest.value_or(d.metres) > 0 && d.nearest.value_or(d.metres) <= d.metres &&
         d.farthest.value_or(d.metres) >= d.metres;
}

bool sane(CaptureAnswer& a) {
  clean(a.text);
  if (!a.value) return true;
  Capture& c = *a.value;
  for (std::string* s : {&c.make, &c.model, &c.serial, &c.lens}) clean(*s);
  for (std::string& note : c.notes) clean(note);
  if (c.af) clean(c.af->source);
  if (c.distance && !sane(*c.distance)) return false;
  return c.orientation >= 1 && c.orientation <= 8 && c.width >= 0 && c.height >= 0;
}

bool sane(IdentityAnswer& a) {
  clean(a.text);
  if (a.value) clean(a.value->format);
  return true;
}

// A browser decodes it; all that can be said here is that it is no other kind of file.
bool sane(RenderAnswer& a) {
  clean(a.text);
  if (!a.value) return true;
  const Rendering& r = *a.value;
  const bool jpeg = r.jpeg.size() > 3 && r.jpeg[0] == 0xff && r.jpeg[1] == 0xd8 && r.jpeg[2] == 0xff;
  const auto side = [](int n) { return n >= 1 && n <= kMaxRenderSide; };
  return jpeg && side(r.width) && side(r.height) && within_frame(r.region) && r.full_width >= r.width &&
         r.full_height >= r.height;
}

bool sane(Measure& m) {
  clean(m.id);
  clean(m.unit);
  clean(m.basis);
  return m.confidence >= 0 && m.confidence <= 1;
}

bool sane(FactsRecord& r) {
  FrameFacts& f = r.facts;
  clean(f.damage);
  clean(f.pixel_source);
  for (std::string& note : f.notes) clean(note);
  for (Measure& m : f.measures)
    if (!sane(m)) return false;
  for (Subject& s : f.subjects) {
    clean(s.source);
    clean(s.why);
    if (!within_frame(s.box) || (s.head && !within_frame(*s.head))) return false;
    if (s.confidence < 0 || s.confidence > 1) return false;
    if (s.head_confidence < 0 || s.head_confidence > 1) return false;
    for (Measure& m : s.measures)
      if (!sane(m)) return false;
  }
  const CellMask& mask = f.mask;
  if (mask.cols < 0 || mask.rows < 0 ||
      static_cast<std::uint64_t>(mask.cols) * static_cast<std::uint64_t>(mask.rows) != mask.cells.size())
    return false;
  if (!within_frame(mask.where) || !(mask.confidence >= 0 && mask.confidence <= 1)) return false;
  if (!f.pose.tile.empty() && f.pose.tile.size() != 64 * 64) return false;
  f.thumbnail = std::move(r.thumbnail);
  return f.pixel_width >= 0 && f.pixel_height >= 0;
}

template <class T>
bool all_sane(std::vector<T>& list) {
  for (T& v : list)
    if (!sane(v)) return false;
  return true;
}

}  // namespace

ByteBuffer encode(const Hello& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<Candidate>& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<FileRef>& v) {
  return written(v);
}
ByteBuffer encode(const BurstTask& v) {
  return written(v);
}
ByteBuffer encode(const Ready& v) {
  return written(v);
}
ByteBuffer encode(const Place& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<IdentityAnswer>& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<CaptureAnswer>& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<RenderTask>& v) {
  return written(v);
}
ByteBuffer encode(const std::vector<RenderAnswer>& v) {
  return written(v);
}
ByteBuffer encode(const FactsRecord& v) {
  return written(v);
}
ByteBuffer encode(const BurstEnd& v) {
  return written(v);
}

bool decode(Bytes payload, Hello& out) {
  return was_read(payload, out) && out.protocol == kProtocol && out.threads > 0;
}
bool decode(Bytes payload, std::vector<Candidate>& out) {
  return was_read(payload, out);
}
bool decode(Bytes payload, std::vector<FileRef>& out) {
  return was_read(payload, out);
}
bool decode(Bytes payload, BurstTask& out) {
  if (!was_read(payload, out) || out.frames.empty()) return false;
  for (const Frame& f : out.frames)
    if (!f.raw && !f.jpeg) return false;
  return true;
}
bool decode(Bytes payload, Ready& out) {
  const bool ok = was_read(payload, out);
  clean(out.why_not);
  return ok;
}
bool decode(Bytes payload, Place& out) {
  return was_read(payload, out);
}
bool decode(Bytes payload, std::vector<IdentityAnswer>& out) {
  return was_read(payload, out) && all_sane(out);
}
bool decode(Bytes payload, std::vector<CaptureAnswer>& out) {
  return was_read(payload, out) && all_sane(out);
}
bool decode(Bytes payload, std::vector<RenderTask>& out) {
  if (!was_read(payload, out)) return false;
  for (const RenderTask& t : out)
    if (!t.frame.raw && !t.frame.jpeg) return false;
  return true;
}
bool decode(Bytes payload, std::vector<RenderAnswer>& out) {
  return was_read(payload, out) && all_sane(out);
}
bool decode(Bytes payload, FactsRecord& out) {
  return was_read(payload, out) && sane(out);
}
bool decode(Bytes payload, BurstEnd& out) {
  if (!was_read(payload, out)) return false;
  for (Mishap& m : out.starved) clean(m.text);
  return true;
}

ByteBuffer framed(RecordKind kind, Bytes payload) {
  RecordWriter w;
  w.number(static_cast<std::uint32_t>(payload.size() + 1));
  w.number(static_cast<std::uint8_t>(kind));
  ByteBuffer out = w.take();
  out.insert(out.end(), payload.begin(), payload.end());
  return out;
}

void RecordStream::add(Bytes bytes) {
  if (at_ == buffer_.size()) {
    buffer_.clear();
    at_ = 0;
  }
  buffer_.insert(buffer_.end(), bytes.begin(), bytes.end());
}

std::optional<Record> RecordStream::next() {
  if (broken_) return std::nullopt;
  ByteReader in(Bytes(buffer_).subspan(at_));
  const auto length = in.u32();
  if (!length) return std::nullopt;
  if (*length == 0 || *length > kMaxRecordBytes) {
    broken_ = true;
    return std::nullopt;
  }
  const auto body = in.block(*length);
  if (!body) return std::nullopt;
  if ((*body)[0] > static_cast<std::uint8_t>(last_of(RecordKind{}))) {
    broken_ = true;
    return std::nullopt;
  }
  at_ += 4 + body->size();
  return Record{static_cast<RecordKind>((*body)[0]), ByteBuffer(body->begin() + 1, body->end())};
}

}  // namespace burstsieve::pipeline
