// What passes between supervisor and engine process. The supervisor believes nothing it reads there: every
// record is bounds-checked, every text made one line, and no path comes back at all.
//
// On the wire: length of the rest (u32), kind (u8), payload (base/record.h).
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

// A burst of 10,000 frames with long paths takes about 10 MB; a whole frame's facts, some 40 KB.
inline constexpr std::uint32_t kMaxRecordBytes = 64u << 20;

enum class RecordKind : std::uint8_t {
  hello,       // to the engine: Hello
  candidates,  // to the engine: std::vector<Candidate>
  files,       // to the engine: std::vector<FileRef>
  burst,       // to the engine: BurstTask
  ready,       // from the engine: Ready
  begin,       // from the engine: Place
  end,         // from the engine: Place
  frame_done,  // from the engine, empty
  identities,  // from the engine: std::vector<IdentityAnswer>
  captures,    // from the engine: std::vector<CaptureAnswer>
  facts,       // from the engine: FactsRecord, one per frame of a burst
  burst_done,  // from the engine: BurstEnd
  renders,     // to the engine: std::vector<RenderTask>
  renderings,  // from the engine: std::vector<RenderAnswer>
};
constexpr RecordKind last_of(RecordKind) {
  return RecordKind::renderings;
}

struct Hello {
  std::uint32_t protocol = 0;
  int threads = 1;
  Limits limits;
  std::uint64_t memory_bytes = 0;
  std::string detector;  // EngineOptions::detector
};
// Both programs are the same file; a mismatch means that somebody started the wrong one.
inline constexpr std::uint32_t kProtocol = 4;

struct Ready {
  bool sandboxed = false;
  std::string why_not;
  std::string detector;         // Engine::detector()
  std::string why_no_detector;  // empty when it is at work, or none was asked for
};

struct Place {
  std::uint64_t task = 0;
  std::uint32_t item = 0;
  Step step = Step::identity;
  bool operator==(const Place&) const = default;
};

// Result<T> on the wire; the error's file is the supervisor's to name.
template <class T>
struct Answer {
  std::optional<T> value;
  Cause cause = Cause::io;
  std::string text;
};
using IdentityAnswer = Answer<Identity>;
using CaptureAnswer = Answer<Capture>;
using RenderAnswer = Answer<Rendering>;

struct FactsRecord {
  FrameFacts facts;
  std::vector<std::uint8_t> thumbnail;
};

struct BurstEnd {
  std::uint64_t mosaics = 0;
  bool passing = false;
  std::vector<Mishap> starved;
};

struct Record {
  RecordKind kind{};
  ByteBuffer payload;
};

ByteBuffer encode(const Hello& v);
ByteBuffer encode(const std::vector<Candidate>& v);
ByteBuffer encode(const std::vector<FileRef>& v);
ByteBuffer encode(const BurstTask& v);
ByteBuffer encode(const Ready& v);
ByteBuffer encode(const Place& v);
ByteBuffer encode(const std::vector<IdentityAnswer>& v);
ByteBuffer encode(const std::vector<CaptureAnswer>& v);
ByteBuffer encode(const std::vector<RenderTask>& v);
ByteBuffer encode(const std::vector<RenderAnswer>& v);
ByteBuffer encode(const FactsRecord& v);
ByteBuffer encode(const BurstEnd& v);

// False for anything that encode() would not have written; `out` is then unspecified but valid.
bool decode(Bytes payload, Hello& out);
bool decode(Bytes payload, std::vector<Candidate>& out);
bool decode(Bytes payload, std::vector<FileRef>& out);
bool decode(Bytes payload, BurstTask& out);
bool decode(Bytes payload, Ready& out);
bool decode(Bytes payload, Place& out);
bool decode(Bytes payload, std::vector<IdentityAnswer>& out);
bool decode(Bytes payload, std::vector<CaptureAnswer>& out);
bool decode(Bytes payload, std::vector<RenderTask>& out);
bool decode(Bytes payload, std::vector<RenderAnswer>& out);
bool decode(Bytes payload, FactsRecord& out);
bool decode(Bytes payload, BurstEnd& out);

// Cuts a stream of bytes into records.
class RecordStream {
 public:
  void add(Bytes bytes);
  // The next whole record, if there is one.
  std::optional<Record> next();
  // True once the stream makes no sense: a length or kind out of range.
  bool broken() const { return broken_; }

 private:
  ByteBuffer buffer_;
  std::size_t at_ = 0;
  bool broken_ = false;
};

// Head and payload, to be written in one piece.
ByteBuffer framed(RecordKind kind, Bytes payload);

}  // namespace burstsieve::pipeline
