// Promise: whatever the engine process says, the supervisor reads records it could have sent, or ends it: no
// more memory than the bytes it sent, no text that could drive a terminal, no place outside the frame.
//
// Input: a stream, fed in two pieces cut where its first byte says, as a pipe does.
#include <algorithm>

#include "engine_records.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::pipeline;

namespace {

void require_clean(const FrameFacts& f) {
  fuzz::require(fuzz::clean_line(f.damage) && fuzz::clean_line(f.pixel_source), "texts are one clean line");
  for (const std::string& note : f.notes) fuzz::require(fuzz::clean_line(note), "notes are one clean line");
  for (const Subject& s : f.subjects)
    fuzz::require(s.box.x > -1e-6 && s.box.right() < 1 + 1e-6, "a subject lies in the frame");
  fuzz::require(static_cast<std::uint64_t>(f.mask.cols) * static_cast<std::uint64_t>(f.mask.rows) ==
                    f.mask.cells.size(),
                "a mask has its cells");
  fuzz::require(f.mask.where.x > -1e-6 && f.mask.where.right() < 1 + 1e-6, "a mask lies in the frame");
}

template <class T>
bool reads(const Record& record, T& out) {
  return decode(record.payload, out);
}

bool read_one(const Record& record) {
  switch (record.kind) {
    case RecordKind::hello: {
      Hello v;
      return reads(record, v);
    }
    case RecordKind::candidates: {
      std::vector<Candidate> v;
      return reads(record, v);
    }
    case RecordKind::files: {
      std::vector<FileRef> v;
      return reads(record, v);
    }
    case RecordKind::burst: {
      BurstTask v;
      return reads(record, v);
    }
    case RecordKind::ready: {
      Ready v;
      const bool ok = reads(record, v);
      fuzz::require(fuzz::clean_line(v.why_not), "texts are one clean line");
      return ok;
    }
    case RecordKind::begin:
    case RecordKind::end: {
      Place v;
      if (!reads(record, v)) return false;
      const ByteBuffer again = encode(v);
      fuzz::require(again == record.payload, "a place encodes to what it was");
      return true;
    }
    case RecordKind::frame_done:
      return true;
    case RecordKind::identities: {
      std::vector<IdentityAnswer> v;
      return reads(record, v);
    }
    case RecordKind::captures: {
      std::vector<CaptureAnswer> v;
      return reads(record, v);
    }
    case RecordKind::renders: {
      std::vector<RenderTask> v;
      return reads(record, v);
    }
    case RecordKind::renderings: {
      std::vector<RenderAnswer> v;
      if (!reads(record, v)) return false;
      for (const RenderAnswer& a : v)
        fuzz::require(!a.value || (a.value->width >= 1 && a.value->width <= kMaxRenderSide),
                      "a picture has a size");
      return true;
    }
    case RecordKind::facts: {
      FactsRecord v;
      if (!reads(record, v)) return false;
      require_clean(v.facts);
      return true;
    }
    case RecordKind::burst_done: {
      BurstEnd v;
      return reads(record, v);
    }
  }
  return false;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes bytes(data, size);
  const std::size_t cut = size == 0 ? 0 : std::min<std::size_t>(data[0], size);
  RecordStream stream;
  std::size_t records = 0, accepted = 0;
  const auto take = [&] {
    while (const auto record = stream.next()) {
      ++records;
      accepted += read_one(*record);
    }
  };
  stream.add(bytes.first(cut));
  take();
  stream.add(bytes.subspan(cut));
  take();
  if (stream.broken()) fuzz::require(!stream.next(), "nothing comes after nonsense");
  fuzz::came_out(stream.broken()      ? "broken"
                 : records == 0       ? "waits"
                 : accepted < records ? "refused"
                                      : "accepted");
  return 0;
}
