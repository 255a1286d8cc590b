#include "tiff.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <deque>
#include <set>

#include "tiff_tags.h"

namespace burstsieve::decode {
namespace {

constexpr std::size_t kMaxDirectories = 64;  // the most seen in a raw is about 10
constexpr std::uint32_t kMaxSubs = 32;

// Bytes per value of the TIFF types 1..13 (TIFF 6.0 section 2 and, for 13, TIFF Tech Note 1).
std::uint32_t size_of_type(std::uint16_t type) {
  constexpr std::uint8_t sizes[] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4};
  return type < std::size(sizes) ? sizes[type] : 0;
}

std::optional<double> number(ByteReader& in, std::uint16_t type) {
  const auto u32 = [&]() -> std::optional<std::uint32_t> {
    const auto v = in.u32();
    return v ? std::optional(*v) : std::nullopt;
  };
  switch (type) {
    case 1:
    case 7: {
      const auto v = in.u8();
      return v ? std::optional<double>(*v) : std::nullopt;
    }
    case 3: {
      const auto v = in.u16();
      return v ? std::optional<double>(*v) : std::nullopt;
    }
    case 8: {
      const auto v = in.u16();
      return v ? std::optional<double>(static_cast<std::int16_t>(*v)) : std::nullopt;
    }
    case 4:
    case 13: {
      const auto v = u32();
      return v ? std::optional<double>(*v) : std::nullopt;
    }
    case 9: {
      const auto v = u32();
      return v ? std::optional<double>(static_cast<std::int32_t>(*v)) : std::nullopt;
    }
    case 5:
    case 10: {
      const auto a = u32();
      const auto b = u32();
      if (!a || !b || *b == 0) return std::nullopt;
      if (type == 5) return static_cast<double>(*a) / static_cast<double>(*b);
      return static_cast<double>(static_cast<std::int32_t>(*a)) / static_cast<std::int32_t>(*b);
    }
    case 11: {
      const auto v = u32();
      return v ? std::optional<double>(std::bit_cast<float>(*v)) : std::nullopt;
    }
    case 12: {
      const auto v = in.u64();
      return v ? std::optional(std::bit_cast<double>(*v)) : std::nullopt;
    }
    default:
      return std::nullopt;
  }
}

// Files state whole numbers in every type, NaN and 1e300 included.
std::optional<std::uint32_t> whole_of(double v) {
  if (!(v >= 0 && v <= 4294967295.0) || v != std::floor(v)) return std::nullopt;
  return static_cast<std::uint32_t>(v);
}

}  // namespace

const TiffField* TiffDirectory::find(std::uint16_t tag) const {
  const auto it =
      std::find_if(fields.begin(), fields.end(), [&](const TiffField& f) { return f.tag == tag; });
  return it == fields.end() ? nullptr : &*it;
}

Result<TiffFile> TiffFile::open(const SourceFile& file) {
  const auto head = file.bytes(0, 8);
  if (!head) return head.error();
  TiffFile out(file);
  const bool big = (*head)[0] == 'M' && (*head)[1] == 'M';
  if (!big && !((*head)[0] == 'I' && (*head)[1] == 'I'))
    return Error{Cause::unsupported, file.path(), "not a TIFF container"};
  out.order_ = big ? ByteOrder::big : ByteOrder::little;
  // The number after the order mark is 42 in TIFF; makers that changed it kept the rest.
  ByteReader in(*head, out.order_);
  if (auto there = in.seek(4); !there) return there.error();
  const auto first = in.u32();
  if (!first) return first.error();

  std::deque<std::uint32_t> todo{*first};
  std::set<std::uint32_t> seen;
  while (!todo.empty() && out.directories_.size() < kMaxDirectories) {
    const std::uint32_t at = todo.front();
    todo.pop_front();
    if (at == 0 || !seen.insert(at).second) continue;
    const std::size_t before = out.directories_.size();
    const std::uint32_t next = out.read_directory(at);
    if (out.directories_.size() == before) continue;
    if (const auto subs = out.numbers(out.directories_.back(), kSubIfds, kMaxSubs))
      for (const double sub : *subs)
        if (const auto offset = whole_of(sub)) todo.push_back(*offset);
    todo.push_back(next);
  }
  if (out.directories_.empty()) return Error{Cause::truncated, file.path(), "no TIFF directory"};
  return out;
}

// Appends the directory at `at`; returns the offset of the next in its chain, 0 for none.
std::uint32_t TiffFile::read_directory(std::uint64_t at) {
  constexpr std::uint64_t entry = 12;
  const auto count_bytes = file_->bytes(at, 2);
  if (!count_bytes) return 0;
  const auto count = ByteReader(*count_bytes, order_).u16();
  if (!count) return 0;
  const auto bytes = file_->bytes(at + 2, *count * entry);
  if (!bytes) return 0;
  ByteReader in(*bytes, order_);
  TiffDirectory dir;
  for (std::uint64_t i = 0; i < *count; ++i) {
    const auto tag = in.u16();
    const auto type = in.u16();
    const auto n = in.u32();
    const auto value = in.u32();
    if (!tag || !type || !n || !value) break;
    const std::uint64_t size = std::uint64_t{*n} * size_of_type(*type);
    dir.fields.push_back({*tag, *type, *n, size <= 4 ? at + 2 + i * entry + 8 : *value});
  }
  directories_.push_back(std::move(dir));
  const auto tail = file_->bytes(at + 2 + *count * entry, 4);
  if (!tail) return 0;
  const auto next = ByteReader(*tail, order_).u32();
  return next ? *next : 0;
}

std::optional<std::vector<double>> TiffFile::numbers(const TiffDirectory& dir, std::uint16_t tag,
                                                     std::uint32_t most) const {
  const TiffField* f = dir.find(tag);
  if (!f || f->count == 0 || f->count > most || size_of_type(f->type) == 0) return std::nullopt;
  const auto bytes = file_->bytes(f->where, std::uint64_t{f->count} * size_of_type(f->type));
  if (!bytes) return std::nullopt;
  ByteReader in(*bytes, order_);
  std::vector<double> out;
  out.reserve(f->count);
  for (std::uint32_t i = 0; i < f->count; ++i) {
    const auto v = number(in, f->type);
    if (!v) return std::nullopt;
    out.push_back(*v);
  }
  return out;
}

std::optional<std::uint64_t> TiffFile::whole(const TiffDirectory& dir, std::uint16_t tag) const {
  const auto v = numbers(dir, tag, 1);
  return v ? whole_of(v->front()) : std::nullopt;
}

}  // namespace burstsieve::decode
