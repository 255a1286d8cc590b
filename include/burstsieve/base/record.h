// Structures as bytes: little-endian, doubles by their bits. Reading checks every bound, so that a damaged or
// forged record is refused and never becomes a wrong number or a wild allocation.
//
// A structure takes part through a function fields(io, structure) that hands its members to io.item() in a
// fixed order; one function serves both directions (model/fields.h). An enumeration takes part through
// last_of(value), its greatest enumerator.
#pragma once
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace burstsieve {

class RecordWriter {
 public:
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
  void item(const std::vector<std::uint8_t>& v) {
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
  template <class T>
  requires std::is_class_v<T>
  void item(const T& v) { fields(*this, v); }

  Bytes bytes() const { return out_; }
  ByteBuffer take() { return std::move(out_); }

 private:
  ByteBuffer out_;
};

// After the first item that can't be read every further one is left empty and ok() is false.
class RecordReader {
 public:
  explicit RecordReader(Bytes bytes) : in_(bytes) {}

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
  // Not a number and infinite are refused: no measure writes them.
  void item(double& v) {
    v = std::bit_cast<double>(take(in_.u64()));
    ok_ = ok_ && std::isfinite(v);
    if (!ok_) v = 0;
  }
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
    v.reset();
    if (there && ok_) item(v.emplace());
  }
  template <class T>
  void item(std::vector<T>& v) {
    const std::uint32_t count = take(in_.u32());
    v.clear();
    // Every item takes at least four bytes, so a forged count can't make us allocate.
    if (count > in_.remaining() / 4) ok_ = false;
    for (std::uint32_t i = 0; ok_ && i < count; ++i) item(v.emplace_back());
  }
  template <class T>
  requires std::is_enum_v<T>
  void item(T& v) {
    std::uint8_t n = 0;
    item(n);
    ok_ = ok_ && n <= static_cast<std::uint8_t>(last_of(T{}));
    v = ok_ ? static_cast<T>(n) : T{};
  }
  template <class T>
  requires std::is_class_v<T>
  void item(T& v) { fields(*this, v); }

 private:
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

// Hands several members over at once.
template <class Io, class... T>
void all(Io& io, T&... parts) {
  (io.item(parts), ...);
}

}  // namespace burstsieve
