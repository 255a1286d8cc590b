#include "codec.h"

#include <xxhash.h>

#include <bit>
#include <concepts>
#include <type_traits>

namespace burstsieve::catalog {

namespace {

// Changes whenever the layout of a record does; other versions count as damaged, that is, as absent.
constexpr std::uint8_t kLayout = 1;

std::uint64_t checksum(Bytes bytes) {
  return XXH64(bytes.data(), bytes.size(), kLayout);
}

class Writer {
 public:
  explicit Writer(char kind) {
    number(kLayout);
    number(static_cast<std::uint8_t>(kind));
  }

  template <class T>
  requires std::is_unsigned_v<T>
  void number(T value) {
    for (std::size_t i = 0; i < sizeof(T); ++i) out_.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
  }
  void item(bool v) { number(static_cast<std::uint8_t>(v)); }
  void item(std::uint8_t v) { number(v); }
  void item(std::uint32_t v) { number(v); }
  void item(std::uint64_t v) { number(v); }
  void item(int v) { number(static_cast<std::uint32_t>(v)); }
  void item(std::int64_t v) { number(static_cast<std::uint64_t>(v)); }
  void item(double v) { number(std::bit_cast<std::uint64_t>(v)); }
  void item(const std::string& v) {
    number(static_cast<std::uint32_t>(v.size()));
    out_.insert(out_.end(), v.begin(), v.end());
  }
  template <class T>
  void item(const std::optional<T>& v) {
    item(v.has_value());
    if (v) item(*v);
  }
  template <class T>
  void item(const std::vector<T>& v) {
    number(static_cast<std::uint32_t>(v.size()));
    for (const T& x : v) item(x);
  }
  template <class T>
  requires std::is_enum_v<T>
  void item(T v) { number(static_cast<std::uint8_t>(v)); }
  // Structures list their fields once, for both directions (fields()).
  template <class T>
  requires std::is_class_v<T>
  void item(const T& v);

  ByteBuffer take() {
    number(checksum(out_));
    return std::move(out_);
  }

 private:
  ByteBuffer out_;
};

class Reader {
 public:
  explicit Reader(Bytes bytes) : in_(bytes) {}

  bool ok() const { return ok_; }
  bool at_end() const { return in_.remaining() == 0; }

  void item(bool& v) {
    std::uint8_t n = 0;
    item(n);
    ok_ = ok_ && n <= 1;
    v = n == 1;
  }
  void item(std::uint8_t& v) { v = take(in_.u8()); }
  void item(std::uint32_t& v) { v = take(in_.u32()); }
  void item(std::uint64_t& v) { v = take(in_.u64()); }
  void item(int& v) { v = static_cast<int>(take(in_.u32())); }
  void item(std::int64_t& v) { v = static_cast<std::int64_t>(take(in_.u64())); }
  void item(double& v) { v = std::bit_cast<double>(take(in_.u64())); }
  void item(std::string& v) {
    const Bytes bytes = block(take(in_.u32()));
    v.assign(bytes.begin(), bytes.end());
  }
  void item(std::vector<std::uint8_t>& v) {
    const Bytes bytes = block(take(in_.u32()));
    v.assign(bytes.begin(), bytes.end());
  }
  template <class T>
  void item(std::optional<T>& v) {
    bool there = false;
    item(there);
    if (!there || !ok_) return;
    v.emplace();
    item(*v);
  }
  template <class T>
  void item(std::vector<T>& v) {
    const std::uint32_t count = take(in_.u32());
    // Every item takes at least four bytes, so a forged count can't make us allocate.
    if (count > in_.remaining() / 4) ok_ = false;
    for (std::uint32_t i = 0; ok_ && i < count; ++i) item(v.emplace_back());
  }
  template <class T>
  requires std::is_enum_v<T>
  void item(T& v) {
    std::uint8_t n = 0;
    item(n);
    ok_ = ok_ && n <= last_of(T{});
    v = static_cast<T>(n);
  }
  template <class T>
  requires std::is_class_v<T>
  void item(T& v);

 private:
  static std::uint8_t last_of(DriveMode) { return static_cast<std::uint8_t>(DriveMode::bracket); }
  static std::uint8_t last_of(Verdict) { return static_cast<std::uint8_t>(Verdict::reject); }

  template <class T>
  T take(Result<T> read) {
    if (ok_ && read) return *read;
    ok_ = false;
    return {};
  }
  Bytes block(std::uint32_t size) { return take(in_.block(size)); }

  ByteReader in_;
  bool ok_ = true;
};

// The fields of each structure, in stored order; `io` is a Writer or a Reader. The structured bindings make a
// field that is added to a structure and forgotten here a compile error.
template <class T, class S>
concept Is = std::same_as<std::remove_const_t<T>, S>;

template <class Io, class... T>
void all(Io& io, T&... parts) {
  (io.item(parts), ...);
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
template <class Io, Is<Capture> T>
void fields(Io& io, T& v) {
  auto& [make, model, serial, lens, time_ms, subsecond_known, utc_offset_minutes, focal_mm, f_number,
         exposure_s, iso, orientation, width, height, drive, sequence_number, shutter_count, file_number, af,
         notes] = v;
  all(io, make, model, serial, lens, time_ms, subsecond_known, utc_offset_minutes, focal_mm, f_number,
      exposure_s, iso, orientation, width, height, drive, sequence_number, shutter_count, file_number, af,
      notes);
}
template <class Io, Is<Subject> T>
void fields(Io& io, T& v) {
  auto& [box, head, confidence, source] = v;
  all(io, box, head, confidence, source);
}
template <class Io, Is<CellMask> T>
void fields(Io& io, T& v) {
  auto& [cols, rows, cells] = v;
  all(io, cols, rows, cells);
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
template <class Io, Is<FrameFacts> T>
void fields(Io& io, T& v) {
  auto& [decoded, damage, pixel_width, pixel_height, pixel_source, subjects, mask, measures, pose, thumbnail,
         notes] = v;
  static_cast<void>(thumbnail);  // stored beside
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

template <class T>
requires std::is_class_v<T>
void Writer::item(const T& v) {
  fields(*this, v);
}
template <class T>
requires std::is_class_v<T>
void Reader::item(T& v) {
  fields(*this, v);
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
  Reader in(*body);
  T out{};
  in.item(out);
  if (!in.ok() || !in.at_end()) return Error{Cause::corrupt, {}, "a stored record makes no sense"};
  return out;
}

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

}  // namespace

ByteBuffer encode(const Capture& capture) {
  Writer w('c');
  w.item(capture);
  return w.take();
}

ByteBuffer encode(const FrameFacts& facts) {
  Writer w('f');
  w.item(facts);
  w.item(checksum(facts.thumbnail));
  return w.take();
}

ByteBuffer encode(const FrameVerdict& verdict) {
  Writer w('v');
  w.item(verdict);
  return w.take();
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
      static_cast<std::uint64_t>(mask.cols) * static_cast<std::uint64_t>(mask.rows) != mask.cells.size())
    return Error{Cause::corrupt, {}, "a stored mask is damaged"};
  out->facts.thumbnail.assign(thumbnail.begin(), thumbnail.end());
  return std::move(out->facts);
}

Result<FrameVerdict> decode_verdict(Bytes record) {
  return decoded<FrameVerdict>(record, 'v');
}

}  // namespace burstsieve::catalog
