#include "tiff.h"

#include <bit>
#include <cmath>

namespace burstsieve::generate {
namespace {

enum Type : std::uint16_t {
  byte = 1,
  ascii_ = 2,
  short_ = 3,
  long_ = 4,
  rational = 5,
  undefined_ = 7,
  srational = 10,
  double_ = 12
};

void little(ByteBuffer& out, std::uint64_t value, int size) {
  for (int i = 0; i < size; ++i) out.push_back(static_cast<unsigned char>(value >> (8 * i)));
}

}  // namespace

Rational rational_of(double value) {
  if (value > 0 && value < .3) {
    const double n = std::round(1 / value);
    if (std::abs(1 / n - value) < 1e-4 * value) return {1, static_cast<std::uint32_t>(n)};
  }
  const auto thousandths = static_cast<std::uint32_t>(std::lround(value * 1000));
  if (thousandths % 1000 == 0) return {thousandths / 1000, 1};
  if (thousandths % 100 == 0) return {thousandths / 100, 10};
  return {thousandths, 1000};
}

void Directory::put(std::uint16_t tag, std::uint16_t type, std::uint32_t count, ByteBuffer value) {
  entries_[tag] = Entry{type, count, std::move(value)};
}
void Directory::bytes(std::uint16_t tag, const ByteBuffer& value) {
  put(tag, byte, static_cast<std::uint32_t>(value.size()), value);
}
void Directory::undefined(std::uint16_t tag, std::string_view value) {
  put(tag, undefined_, static_cast<std::uint32_t>(value.size()), ByteBuffer(value.begin(), value.end()));
}
void Directory::ascii(std::uint16_t tag, std::string_view value) {
  ByteBuffer b(value.begin(), value.end());
  b.push_back(0);
  const auto count = static_cast<std::uint32_t>(b.size());
  put(tag, ascii_, count, std::move(b));
}
void Directory::shorts(std::uint16_t tag, const std::vector<std::uint16_t>& value) {
  ByteBuffer b;
  for (auto v : value) little(b, v, 2);
  put(tag, short_, static_cast<std::uint32_t>(value.size()), std::move(b));
}
void Directory::longs(std::uint16_t tag, const std::vector<std::uint32_t>& value) {
  ByteBuffer b;
  for (auto v : value) little(b, v, 4);
  put(tag, long_, static_cast<std::uint32_t>(value.size()), std::move(b));
}
void Directory::rationals(std::uint16_t tag, const std::vector<Rational>& value) {
  ByteBuffer b;
  for (auto v : value) little(b, v.num, 4), little(b, v.den, 4);
  put(tag, rational, static_cast<std::uint32_t>(value.size()), std::move(b));
}
void Directory::srationals(std::uint16_t tag, const std::vector<double>& value) {
  ByteBuffer b;
  for (double v : value) {
    little(b, static_cast<std::uint32_t>(static_cast<std::int32_t>(std::lround(v * 10000))), 4);
    little(b, 10000, 4);
  }
  put(tag, srational, static_cast<std::uint32_t>(value.size()), std::move(b));
}
void Directory::doubles(std::uint16_t tag, const std::vector<double>& value) {
  ByteBuffer b;
  for (double v : value) little(b, std::bit_cast<std::uint64_t>(v), 8);
  put(tag, double_, static_cast<std::uint32_t>(value.size()), std::move(b));
}

std::uint32_t Directory::size() const {
  std::size_t n = 2 + 12 * entries_.size() + 4;
  for (const auto& [tag, e] : entries_)
    if (e.value.size() > 4) n += (e.value.size() + 1) / 2 * 2;
  return static_cast<std::uint32_t>(n);
}

void Directory::append_to(ByteBuffer& out) const {
  std::size_t spill = out.size() + 2 + 12 * entries_.size() + 4;
  ByteBuffer values;
  little(out, entries_.size(), 2);
  for (const auto& [tag, e] : entries_) {
    little(out, tag, 2);
    little(out, e.type, 2);
    little(out, e.count, 4);
    if (e.value.size() > 4) {
      little(out, spill + values.size(), 4);
      values.insert(values.end(), e.value.begin(), e.value.end());
      if (values.size() % 2 != 0) values.push_back(0);
    } else {
      ByteBuffer v = e.value;
      v.resize(4);
      out.insert(out.end(), v.begin(), v.end());
    }
  }
  little(out, 0, 4);
  out.insert(out.end(), values.begin(), values.end());
}

ByteBuffer tiff_header() {
  return {'I', 'I', 42, 0, 8, 0, 0, 0};
}

}  // namespace burstsieve::generate
