#include "codec.h"

#include <xxhash.h>

#include "burstsieve/base/record.h"
#include "burstsieve/model/fields.h"

namespace burstsieve::catalog {

namespace {

std::uint64_t checksum(Bytes bytes) {
  return XXH64(bytes.data(), bytes.size(), kLayout);
}

// Layout and kind, the structure, a checksum.
template <class T>
ByteBuffer encoded(const T& structure, char kind) {
  RecordWriter w;
  w.number(kLayout);
  w.number(static_cast<std::uint8_t>(kind));
  w.item(structure);
  w.number(checksum(w.bytes()));
  return w.take();
}

// The payload behind layout and kind, its checksum verified.
Result<Bytes> payload(Bytes record, char kind) {
  const Error damaged{Cause::corrupt, {}, "a stored record is damaged"};
  if (record.size() < 10 || record[0] != kLayout || record[1] != static_cast<std::uint8_t>(kind))
    return damaged;
  const Bytes body = record.first(record.size() - 8);
  ByteReader tail(record.last(8));
  if (const auto sum = tail.u64(); !sum || *sum != checksum(body)) return damaged;
  return body.subspan(2);
}

template <class T>
Result<T> decoded(Bytes record, char kind) {
  const auto body = payload(record, kind);
  if (!body) return body.error();
  RecordReader in(*body);
  T out{};
  in.item(out);
  if (!in.ok() || !in.at_end()) return Error{Cause::corrupt, {}, "a stored record makes no sense"};
  return out;
}

}  // namespace

// What is stored of FrameFacts.
struct FactsAndSum {
  FrameFacts facts;
  std::uint64_t thumbnail_sum = 0;
};
template <class Io, Is<FactsAndSum> T>
void fields(Io& io, T& v) {
  fields(io, v.facts);
  io.item(v.thumbnail_sum);
}

ByteBuffer encode(const Capture& capture) {
  return encoded(capture, 'c');
}

ByteBuffer encode(const FrameFacts& facts) {
  return encoded(FactsAndSum{facts, checksum(facts.thumbnail)}, 'f');
}

ByteBuffer encode(const FrameVerdict& verdict) {
  return encoded(verdict, 'v');
}

Result<Capture> decode_capture(Bytes record) {
  return decoded<Capture>(record, 'c');
}

Result<FrameFacts> decode_facts(Bytes record, Bytes thumbnail) {
  auto out = decoded<FactsAndSum>(record, 'f');
  if (!out) return out.error();
  if (out->thumbnail_sum != checksum(thumbnail))
    return Error{Cause::corrupt, {}, "a stored thumbnail is damaged"};
  const CellMask& mask = out->facts.mask;
  if (mask.cols < 0 || mask.rows < 0 ||
      static_cast<std::uint64_t>(mask.cols) * static_cast<std::uint64_t>(mask.rows) != mask.cells.size() ||
      !(overlap(mask.where, clamped(mask.where)) > 1 - 1e-9))
    return Error{Cause::corrupt, {}, "a stored mask is damaged"};
  out->facts.thumbnail.assign(thumbnail.begin(), thumbnail.end());
  return std::move(out->facts);
}

Result<FrameVerdict> decode_verdict(Bytes record) {
  return decoded<FrameVerdict>(record, 'v');
}

}  // namespace burstsieve::catalog
