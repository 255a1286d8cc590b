// Small JPEG and TIFF files with Exif tags, written byte by byte from the TIFF 6.0 and Exif 2.32 layouts.
#pragma once
#include <algorithm>
#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace burstsieve::decode {

// One directory entry: its type and its value, already in little-endian bytes.
struct Entry {
  std::uint16_t type = 0;
  std::uint32_t count = 0;
  ByteBuffer value;
};

inline void put16(ByteBuffer& out, std::uint32_t v) {
  out.push_back(static_cast<std::uint8_t>(v & 0xff));
  out.push_back(static_cast<std::uint8_t>(v >> 8 & 0xff));
}
inline void put32(ByteBuffer& out, std::uint32_t v) {
  put16(out, v & 0xffff);
  put16(out, v >> 16);
}

inline Entry ascii(const std::string& text) {
  Entry e{2, static_cast<std::uint32_t>(text.size() + 1), ByteBuffer(text.begin(), text.end())};
  e.value.push_back(0);
  return e;
}
inline Entry shorts(const std::vector<std::uint32_t>& values) {
  Entry e{3, static_cast<std::uint32_t>(values.size()), {}};
  for (const auto v : values) put16(e.value, v);
  return e;
}
inline Entry longs(const std::vector<std::uint32_t>& values) {
  Entry e{4, static_cast<std::uint32_t>(values.size()), {}};
  for (const auto v : values) put32(e.value, v);
  return e;
}
inline Entry rational(std::uint32_t top, std::uint32_t bottom) {
  Entry e{5, 1, {}};
  put32(e.value, top);
  put32(e.value, bottom);
  return e;
}

using Directory = std::map<std::uint16_t, Entry>;  // sorted by tag, as TIFF wants

// Bytes a directory takes, its values included.
inline std::uint32_t room(const Directory& d) {
  std::size_t size = 2 + 12 * d.size() + 4;
  for (const auto& [tag, e] : d)
    if (e.value.size() > 4) size += (e.value.size() + 1) & ~std::size_t{1};
  return static_cast<std::uint32_t>(size);
}

inline void write_directory(ByteBuffer& out, const Directory& d) {
  const auto start = static_cast<std::uint32_t>(out.size());
  auto data = start + static_cast<std::uint32_t>(2 + 12 * d.size() + 4);
  ByteBuffer tail;
  put16(out, static_cast<std::uint32_t>(d.size()));
  for (const auto& [tag, e] : d) {
    put16(out, tag);
    put16(out, e.type);
    put32(out, e.count);
    if (e.value.size() <= 4) {
      ByteBuffer v = e.value;
      v.resize(4);
      out.insert(out.end(), v.begin(), v.end());
    } else {
      put32(out, data + static_cast<std::uint32_t>(tail.size()));
      tail.insert(tail.end(), e.value.begin(), e.value.end());
      if (tail.size() % 2 != 0) tail.push_back(0);
    }
  }
  put32(out, 0);
  out.insert(out.end(), tail.begin(), tail.end());
}

// A little-endian TIFF whose first directory points to the Exif one. `at`: where the first directory stands.
inline ByteBuffer tiff(Directory first, const Directory& exif, std::uint32_t at = 8) {
  ByteBuffer out{'I', 'I', 42, 0};
  put32(out, at);
  out.resize(at);
  if (!exif.empty()) {
    first[0x8769] = longs({0});
    first[0x8769] = longs({at + room(first)});
  }
  write_directory(out, first);
  if (!exif.empty()) write_directory(out, exif);
  return out;
}

inline void put_segment(ByteBuffer& out, std::uint8_t marker, const ByteBuffer& body) {
  out.push_back(0xff);
  out.push_back(marker);
  const auto size = body.size() + 2;
  out.push_back(static_cast<std::uint8_t>(size >> 8));
  out.push_back(static_cast<std::uint8_t>(size & 0xff));
  out.insert(out.end(), body.begin(), body.end());
}

// A JPEG of headers only: Exif, `padding` bytes of application data, a frame header, no scan.
inline ByteBuffer jpeg(const ByteBuffer& exif_tiff, int width, int height, std::size_t padding = 0) {
  ByteBuffer out{0xff, 0xd8};
  ByteBuffer app1{'E', 'x', 'i', 'f', 0, 0};
  app1.insert(app1.end(), exif_tiff.begin(), exif_tiff.end());
  put_segment(out, 0xe1, app1);
  while (padding > 0) {
    const std::size_t part = std::min<std::size_t>(padding, 60'000);
    put_segment(out, 0xe7, ByteBuffer(part, 0x55));
    padding -= part;
  }
  const auto high = [](int v) { return static_cast<std::uint8_t>(v >> 8); };
  const auto low = [](int v) { return static_cast<std::uint8_t>(v & 0xff); };
  put_segment(out, 0xc0, {8, high(height), low(height), high(width), low(width), 1, 1, 0x11, 0});
  put_segment(out, 0xda, {1, 1, 0, 0, 63, 0});
  out.push_back(0xff);
  out.push_back(0xd9);
  return out;
}

}  // namespace burstsieve::decode
