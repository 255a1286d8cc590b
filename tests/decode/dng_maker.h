// A DNG written byte by byte from the words of TIFF 6.0 and DNG 1.4, with the layouts a test wants.
#pragma once
#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <map>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace decode_test {

using burstsieve::ByteBuffer;

struct DngKind {
  bool big_endian = false;
  int tile_width = 0, tile_height = 0;  // 0: strips
  int rows_per_strip = 0;               // 0: one strip
  std::array<std::uint8_t, 4> cfa{0, 1, 1, 2};
  cv::Rect active{};                     // empty: not stated
  cv::Rect crop{};                       // in the active area; empty: not stated
  std::vector<std::uint32_t> black{64};  // 1 or 4 values
  std::uint32_t white = 1023;
  std::array<double, 3> neutral{.5, 1, .625};
  int orientation = 1;
  ByteBuffer preview{};  // a JPEG for the main directory; empty: the mosaic is the main directory
  cv::Size preview_size{};
  ByteBuffer second_preview{};  // larger, in another SubIFD
  cv::Size second_size{};
  std::vector<double> noise{};  // NoiseProfile, 2 or 6 values; empty: not stated
  bool linearisation = false;   // an identity table: wants a full reader
};

class DngMaker {
 public:
  DngMaker(const cv::Mat& mosaic, const DngKind& kind) : kind_(kind) {
    out_ = {static_cast<std::uint8_t>(kind.big_endian ? 'M' : 'I'),
            static_cast<std::uint8_t>(kind.big_endian ? 'M' : 'I')};
    u16(42);
    u32(0);
    std::vector<std::uint32_t> subs;
    Fields main;
    if (kind.preview.empty()) {
      main = mosaic_fields(mosaic);
    } else {
      subs.push_back(directory(mosaic_fields(mosaic)));
      if (!kind.second_preview.empty())
        subs.push_back(directory(preview_fields(kind.second_preview, kind.second_size)));
      main = preview_fields(kind.preview, kind.preview_size);
      main[330] = longs(subs);
    }
    main[271] = ascii("Testcam");
    main[272] = ascii("Testcam One");
    main[274] = shorts({static_cast<std::uint32_t>(kind.orientation)});
    main[50706] = bytes({1, 4, 0, 0});
    main[50707] = bytes({1, 1, 0, 0});
    main[50708] = ascii("Testcam One");
    main[50721] = rationals({.8, -.2, -.1, -.4, 1.2, .2, -.1, .2, .6}, true);
    main[50728] = rationals({kind.neutral[0], kind.neutral[1], kind.neutral[2]}, false);
    main[50778] = shorts({21});
    const std::uint32_t at = directory(main);
    put32(4, at);
  }
  const ByteBuffer& result() const { return out_; }

 private:
  struct Value {
    std::uint16_t type;
    std::uint32_t count;
    ByteBuffer data;
  };
  using Fields = std::map<std::uint16_t, Value>;

  void add(ByteBuffer& to, std::uint32_t v, int width) const {
    for (int i = 0; i < width; ++i) {
      const int shift = 8 * (kind_.big_endian ? width - 1 - i : i);
      to.push_back(static_cast<std::uint8_t>(v >> shift));
    }
  }
  void u16(std::uint32_t v) { add(out_, v, 2); }
  void u32(std::uint32_t v) { add(out_, v, 4); }
  void put32(std::size_t at, std::uint32_t v) {
    ByteBuffer b;
    add(b, v, 4);
    std::copy(b.begin(), b.end(), out_.begin() + static_cast<std::ptrdiff_t>(at));
  }
  Value shorts(const std::vector<std::uint32_t>& v) const {
    Value out{3, static_cast<std::uint32_t>(v.size()), {}};
    for (const auto x : v) add(out.data, x, 2);
    return out;
  }
  Value longs(const std::vector<std::uint32_t>& v) const {
    Value out{4, static_cast<std::uint32_t>(v.size()), {}};
    for (const auto x : v) add(out.data, x, 4);
    return out;
  }
  Value rationals(const std::vector<double>& v, bool is_signed) const {
    Value out{static_cast<std::uint16_t>(is_signed ? 10 : 5), static_cast<std::uint32_t>(v.size()), {}};
    for (const auto x : v) {
      add(out.data, static_cast<std::uint32_t>(static_cast<std::int32_t>(x * 10000 + (x < 0 ? -.5 : .5))), 4);
      add(out.data, 10000, 4);
    }
    return out;
  }
  Value doubles(const std::vector<double>& v) const {
    Value out{12, static_cast<std::uint32_t>(v.size()), {}};
    for (const double x : v) {
      const auto bits = std::bit_cast<std::uint64_t>(x);
      const auto high = static_cast<std::uint32_t>(bits >> 32), low = static_cast<std::uint32_t>(bits);
      add(out.data, kind_.big_endian ? high : low, 4);
      add(out.data, kind_.big_endian ? low : high, 4);
    }
    return out;
  }
  static Value bytes(const ByteBuffer& v) { return {1, static_cast<std::uint32_t>(v.size()), v}; }
  static Value ascii(const std::string& v) {
    Value out{2, static_cast<std::uint32_t>(v.size() + 1), {v.begin(), v.end()}};
    out.data.push_back(0);
    return out;
  }

  std::uint32_t blob(const ByteBuffer& b) {
    if (out_.size() % 2) out_.push_back(0);
    const auto at = static_cast<std::uint32_t>(out_.size());
    out_.insert(out_.end(), b.begin(), b.end());
    return at;
  }

  std::uint32_t directory(const Fields& fields) {
    ByteBuffer table;
    add(table, static_cast<std::uint32_t>(fields.size()), 2);
    for (const auto& [tag, value] : fields) {
      add(table, tag, 2);
      add(table, value.type, 2);
      add(table, value.count, 4);
      if (value.data.size() > 4) {
        add(table, blob(value.data), 4);
      } else {
        ByteBuffer small = value.data;
        small.resize(4);
        table.insert(table.end(), small.begin(), small.end());
      }
    }
    add(table, 0, 4);
    return blob(table);
  }

  Fields preview_fields(const ByteBuffer& jpeg, cv::Size size) {
    Fields f;
    f[254] = longs({1});
    f[256] = longs({static_cast<std::uint32_t>(size.width)});
    f[257] = longs({static_cast<std::uint32_t>(size.height)});
    f[258] = shorts({8, 8, 8});
    f[259] = shorts({7});
    f[262] = shorts({6});
    f[273] = longs({blob(jpeg)});
    f[277] = shorts({3});
    f[278] = longs({static_cast<std::uint32_t>(size.height)});
    f[279] = longs({static_cast<std::uint32_t>(jpeg.size())});
    return f;
  }

  Fields mosaic_fields(const cv::Mat& m) {
    const bool tiled = kind_.tile_width > 0;
    const int tw = tiled ? kind_.tile_width : m.cols;
    const int th = tiled ? kind_.tile_height : kind_.rows_per_strip > 0 ? kind_.rows_per_strip : m.rows;
    std::vector<std::uint32_t> offsets;
    std::vector<std::uint32_t> sizes;
    for (int y = 0; y < m.rows; y += th)
      for (int x = 0; x < m.cols; x += tw) {
        ByteBuffer tile;
        for (int r = y; r < (tiled ? y + th : std::min(y + th, m.rows)); ++r)
          for (int c = x; c < x + tw; ++c)
            add(tile, r < m.rows && c < m.cols ? m.at<std::uint16_t>(r, c) : 0, 2);
        offsets.push_back(blob(tile));
        sizes.push_back(static_cast<std::uint32_t>(tile.size()));
      }
    Fields f;
    f[254] = longs({0});
    f[256] = longs({static_cast<std::uint32_t>(m.cols)});
    f[257] = longs({static_cast<std::uint32_t>(m.rows)});
    f[258] = shorts({16});
    f[259] = shorts({1});
    f[262] = shorts({32803});
    f[277] = shorts({1});
    f[static_cast<std::uint16_t>(tiled ? 324 : 273)] = longs(offsets);
    f[static_cast<std::uint16_t>(tiled ? 325 : 279)] = longs(sizes);
    if (tiled) {
      f[322] = longs({static_cast<std::uint32_t>(tw)});
      f[323] = longs({static_cast<std::uint32_t>(th)});
    } else {
      f[278] = longs({static_cast<std::uint32_t>(th)});
    }
    f[33421] = shorts({2, 2});
    f[33422] = bytes({kind_.cfa[0], kind_.cfa[1], kind_.cfa[2], kind_.cfa[3]});
    if (kind_.black.size() == 4) f[50713] = shorts({2, 2});
    f[50714] = longs(kind_.black);
    f[50717] = longs({kind_.white});
    if (!kind_.noise.empty()) f[51041] = doubles(kind_.noise);
    if (kind_.linearisation) {
      std::vector<std::uint32_t> identity(65536);
      for (std::uint32_t i = 0; i < identity.size(); ++i) identity[i] = i;
      f[50712] = shorts(identity);
    }
    const auto side = [](int v) { return static_cast<std::uint32_t>(v); };
    if (!kind_.active.empty())
      f[50829] = longs(
          {side(kind_.active.y), side(kind_.active.x), side(kind_.active.br().y), side(kind_.active.br().x)});
    if (!kind_.crop.empty()) {
      f[50719] = longs({side(kind_.crop.x), side(kind_.crop.y)});
      f[50720] = longs({side(kind_.crop.width), side(kind_.crop.height)});
    }
    return f;
  }

  DngKind kind_;
  ByteBuffer out_;
};

inline ByteBuffer make_dng(const cv::Mat& mosaic, const DngKind& kind) {
  return DngMaker(mosaic, kind).result();
}

// Noise between black and white with a mark that has no symmetry.
inline cv::Mat noise_mosaic(int width, int height) {
  cv::Mat m(height, width, CV_16UC1);
  cv::RNG rng(3);
  rng.fill(m, cv::RNG::UNIFORM, 64, 1024);
  return m;
}

}  // namespace decode_test
