#include "note_tags.h"

#include <xxhash.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <string>

namespace burstsieve::fuzz {
namespace {

// Longer answers, and more of them, than any camera writes only make the fuzzer slow.
constexpr std::size_t kLongest = 65'535;

std::uint16_t name_of(char kind, std::string_view key) {
  const std::string question = std::string(1, kind) + ":" + std::string(key);
  return static_cast<std::uint16_t>(XXH64(question.data(), question.size(), 0) & 0xffff);
}

void put(ByteBuffer& out, std::uint64_t value, std::size_t width) {
  for (std::size_t i = 0; i < width; ++i) out.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
}

std::int64_t signed_number(Bytes bytes) {
  std::uint64_t v = 0;
  for (std::size_t i = bytes.size(); i-- > 0;) v = v << 8 | bytes[i];
  const int unused = static_cast<int>(64 - 8 * bytes.size());
  return static_cast<std::int64_t>(v << unused) >> unused;
}

std::size_t width_code(const std::vector<std::int64_t>& values) {
  std::size_t code = 0;
  for (const std::int64_t v : values)
    while (code < 3 &&
           (v < -(std::int64_t{1} << ((8u << code) - 1)) || v >= std::int64_t{1} << ((8u << code) - 1)))
      ++code;
  return code;
}

}  // namespace

NoteTags::NoteTags(Bytes record) {
  ByteReader in(record);
  for (;;) {
    const auto name = in.u16();
    const auto brief = in.u8();
    if (!name || !brief) return;
    std::size_t size = *brief;
    if (*brief == 255) {
      const auto longer = in.u16();
      if (!longer) return;
      size = *longer;
    }
    const auto value = in.block(std::min(size, in.remaining()));
    if (!value) return;
    answers_.emplace(*name, *value);
  }
}

const Bytes* NoteTags::find(char kind, std::string_view key) const {
  const auto at = answers_.find(name_of(kind, key));
  return at == answers_.end() ? nullptr : &at->second;
}

std::optional<std::vector<std::int64_t>> NoteTags::ints(std::string_view key) const {
  const Bytes* value = find('i', key);
  if (!value || value->empty()) return std::nullopt;
  const std::size_t width = std::size_t{1} << (value->front() & 3);
  std::vector<std::int64_t> out;
  for (std::size_t at = 1; at + width <= value->size(); at += width)
    out.push_back(signed_number(value->subspan(at, width)));
  return out;
}

std::optional<std::vector<double>> NoteTags::numbers(std::string_view key) const {
  const Bytes* value = find('n', key);
  if (!value) return std::nullopt;
  std::vector<double> out;
  for (std::size_t at = 0; at + 8 <= value->size(); at += 8) {
    const auto v = std::bit_cast<double>(signed_number(value->subspan(at, 8)));
    if (!std::isfinite(v)) return std::nullopt;  // as TagView promises: undefined makes it absent
    out.push_back(v);
  }
  return out;
}

std::optional<std::string> NoteTags::text(std::string_view key) const {
  const Bytes* value = find('t', key);
  if (!value) return std::nullopt;
  return std::string(value->begin(), value->end());
}

std::optional<std::vector<std::uint8_t>> NoteTags::bytes(std::string_view key) const {
  const Bytes* value = find('b', key);
  if (!value) return std::nullopt;
  return std::vector<std::uint8_t>(value->begin(), value->end());
}

void NoteWriter::answer(char kind, std::string_view key, Bytes value) {
  const Bytes kept = value.first(std::min(value.size(), kLongest));
  put(record_, name_of(kind, key), 2);
  put(record_, std::min<std::size_t>(kept.size(), 255), 1);
  if (kept.size() >= 255) put(record_, kept.size(), 2);
  record_.insert(record_.end(), kept.begin(), kept.end());
}

NoteWriter& NoteWriter::ints(std::string_view key, const std::vector<std::int64_t>& values) {
  const std::size_t code = width_code(values);
  ByteBuffer value{static_cast<std::uint8_t>(code)};
  for (const std::int64_t v : values) put(value, static_cast<std::uint64_t>(v), std::size_t{1} << code);
  answer('i', key, value);
  return *this;
}

NoteWriter& NoteWriter::numbers(std::string_view key, const std::vector<double>& values) {
  ByteBuffer value;
  for (const double v : values) put(value, std::bit_cast<std::uint64_t>(v), 8);
  answer('n', key, value);
  return *this;
}

NoteWriter& NoteWriter::text(std::string_view key, std::string_view value) {
  answer('t', key, {reinterpret_cast<const std::uint8_t*>(value.data()), value.size()});
  return *this;
}

NoteWriter& NoteWriter::bytes(std::string_view key, Bytes value) {
  answer('b', key, value);
  return *this;
}

bool RecordingTags::first_time(char kind, std::string_view key) const {
  return asked_.emplace(std::string(1, kind) + std::string(key), true).second;
}

std::optional<std::vector<std::int64_t>> RecordingTags::ints(std::string_view key) const {
  auto v = tags_.ints(key);
  if (v && first_time('i', key)) writer_.ints(key, *v);
  return v;
}

std::optional<std::vector<double>> RecordingTags::numbers(std::string_view key) const {
  auto v = tags_.numbers(key);
  if (v && first_time('n', key)) writer_.numbers(key, *v);
  return v;
}

std::optional<std::string> RecordingTags::text(std::string_view key) const {
  auto v = tags_.text(key);
  if (v && first_time('t', key)) writer_.text(key, *v);
  return v;
}

std::optional<std::vector<std::uint8_t>> RecordingTags::bytes(std::string_view key) const {
  auto v = tags_.bytes(key);
  if (v && first_time('b', key)) writer_.bytes(key, *v);
  return v;
}

}  // namespace burstsieve::fuzz
