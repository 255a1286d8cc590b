// LibRaw's description of an unpacked raw in our terms.
#include <cmath>
#include <cstring>

#include "mosaic_layout.h"

namespace burstsieve::decode {
namespace {

constexpr unsigned kXTrans = 9;         // LibRaw: filters of a 6x6 pattern
constexpr unsigned kFirstBayer = 1000;  // below are other special patterns

CfaColour colour_of(char letter) {
  switch (letter) {
    case 'R':
      return CfaColour::red;
    case 'G':
      return CfaColour::green;
    case 'B':
      return CfaColour::blue;
    default:
      return CfaColour::none;
  }
}

// LibRaw's colour number (0..3; 3 is the second green) of a photosite of the active area.
int number_at(const libraw_iparams_t& p, int side, int row, int column) {
  if (side == 6) return p.xtrans[row % 6][column % 6];
  return static_cast<int>(p.filters >> (((row << 1 & 14) | (column & 1)) << 1) & 3);
}

bool repeats_every_two_rows(const libraw_iparams_t& p) {
  for (int row = 2; row < 8; ++row)
    for (int column = 0; column < 2; ++column)
      if (number_at(p, 2, row, column) != number_at(p, 2, row % 2, column)) return false;
  return true;
}

struct Levels {
  double common;
  const double* per_number;  // 4
  const double* pattern;     // rows x columns, from the corner of the active area
  int rows, columns;
};

// The mean level of each of R, G and B over one repeat of both patterns.
std::array<double, 3> mean_levels(const libraw_iparams_t& p, const MosaicLayout& layout,
                                  const Levels& levels) {
  std::array<double, 3> sum{};
  std::array<int, 3> count{};
  const int height = layout.cfa_side * std::max(levels.rows, 1);
  const int width = layout.cfa_side * std::max(levels.columns, 1);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      double level = levels.common + levels.per_number[number_at(p, layout.cfa_side, y, x)];
      if (levels.rows > 0 && levels.columns > 0)
        level += levels.pattern[y % levels.rows * levels.columns + x % levels.columns];
      const auto c = static_cast<std::size_t>(layout.colour_at(y, x));
      sum[c] += level;
      ++count[c];
    }
  for (std::size_t c = 0; c < 3; ++c) sum[c] /= count[c];
  return sum;
}

// LibRaw keeps a level table as 4 per-colour levels, the pattern's rows and columns, and the pattern; once in
// whole numbers and, for DNG, once as written in the file.
template <class Table, class Common>
std::array<double, 3> black_of(const libraw_iparams_t& p, const MosaicLayout& layout, Common common,
                               const Table& table) {
  constexpr int most = 64;  // a side; larger ones are not patterns but damage
  const int rows = static_cast<int>(table[4]);
  const int columns = static_cast<int>(table[5]);
  const bool patterned = rows > 0 && columns > 0 && rows <= most && columns <= most &&
                         static_cast<std::size_t>(rows * columns + 6) <= std::size(table);
  std::array<double, 4> per_number{};
  for (std::size_t c = 0; c < 4; ++c) per_number[c] = static_cast<double>(table[c]);
  std::vector<double> pattern;
  if (patterned)
    for (std::size_t i = 0; i < static_cast<std::size_t>(rows * columns); ++i)
      pattern.push_back(static_cast<double>(table[6 + i]));
  return mean_levels(p, layout,
                     {static_cast<double>(common), per_number.data(), pattern.data(), patterned ? rows : 0,
                      patterned ? columns : 0});
}

// The table of DNG levels has fractions, but its pattern's size stands in the whole-number one.
std::array<double, 3> dng_black_of(const libraw_data_t& d, const MosaicLayout& layout) {
  const auto& levels = d.color.dng_levels;
  std::array<float, std::size(decltype(levels.dng_fcblack){})> table;
  std::copy(std::begin(levels.dng_fcblack), std::end(levels.dng_fcblack), table.begin());
  table[4] = static_cast<float>(levels.dng_cblack[4]);
  table[5] = static_cast<float>(levels.dng_cblack[5]);
  return black_of(d.idata, layout, levels.dng_fblack, table);
}

}  // namespace

Result<MosaicLayout> libraw_layout(const RawFile& raw) {
  const auto& d = raw.data();
  const auto& p = d.idata;
  const auto refuse = [](const char* why) { return Error{Cause::unsupported, {}, why}; };
  if (!d.rawdata.raw_image) return refuse("the raw holds no colour mosaic");
  if (raw.diagonal()) return refuse("the sensor grid stands diagonally");
  MosaicLayout out;
  if (p.filters == kXTrans)
    out.cfa_side = 6;
  else if (p.filters < kFirstBayer || !repeats_every_two_rows(p))
    return refuse("the raw's colour pattern is neither 2x2 nor 6x6");

  std::array<int, 3> seen{};
  for (int y = 0; y < out.cfa_side; ++y)
    for (int x = 0; x < out.cfa_side; ++x) {
      const CfaColour c = colour_of(p.cdesc[number_at(p, out.cfa_side, y, x) & 3]);
      if (c == CfaColour::none) return refuse("the raw's colours are not red, green and blue");
      out.cfa[static_cast<std::size_t>(y * out.cfa_side + x)] = c;
      ++seen[static_cast<std::size_t>(c)];
    }
  if (seen[0] == 0 || seen[1] == 0 || seen[2] == 0) return refuse("the raw's pattern lacks a colour");

  const auto& s = d.sizes;
  out.stored = {s.raw_width, s.raw_height};
  out.active = {s.left_margin, s.top_margin, s.width, s.height};
  if ((out.active & cv::Rect({0, 0}, out.stored)) != out.active || out.active.empty())
    return Error{Cause::corrupt, {}, "the active area lies outside the sensor"};
  out.frame = {{0, 0}, out.active.size()};
  const auto& dng = d.color.dng_levels;

  out.black = p.dng_version ? dng_black_of(d, out) : black_of(p, out, d.color.black, d.color.cblack);
  for (int number = 0; number < 4; ++number) {
    const auto c = static_cast<std::size_t>(colour_of(p.cdesc[number]));
    if (c >= 3 || number == 3) continue;  // both greens saturate alike
    double white = d.color.maximum;
    if (p.dng_version && dng.dng_whitelevel[number] > 0)
      white = dng.dng_whitelevel[number];
    else if (!p.dng_version && d.color.linear_max[number] > 0 &&
             d.color.linear_max[number] <= static_cast<long>(d.color.maximum))
      white = static_cast<double>(d.color.linear_max[number]);
    out.white[c] = white;
    const float green = d.color.cam_mul[1];
    if (green > 0 && d.color.cam_mul[number] > 0 && std::isfinite(green) &&
        std::isfinite(d.color.cam_mul[number]))
      out.gain[c] = static_cast<double>(d.color.cam_mul[number]) / green;
  }
  return out;
}

}  // namespace burstsieve::decode
