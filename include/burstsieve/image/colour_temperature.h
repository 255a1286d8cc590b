// From colours to correlated colour temperature and back. Plain numbers.
#pragma once
#include <array>
#include <optional>

namespace burstsieve::image {

struct Chromaticity {
  double x = 0, y = 0;  // CIE 1931
};

// CIE 1931 chromaticity of linear sRGB light (primaries and white of IEC 61966-2-1; R = G = B is D65).
// Nothing where the sum of X, Y and Z is not positive.
std::optional<Chromaticity> chromaticity_of(const std::array<double, 3>& linear_srgb);
// Linear sRGB of that chromaticity at Y = 1; a channel may be negative or above 1. y must be > 0.
std::array<double, 3> linear_srgb_of(const Chromaticity& xy);

struct ColourTemperature {
  double kelvin = 0;
  double mired = 0;  // 1e6 / kelvin: equal steps are about equally visible; higher is warmer
  double duv = 0;    // distance from the Planckian locus in CIE 1960 uv; > 0 above it (greenish), < 0 magenta
};

// The warmest and coldest light that has a temperature here: the range in which the locus below is good.
inline constexpr double kWarmest = 590, kColdest = 67;  // mired

// The nearest point of the Planckian locus in CIE 1960 uv (CIE 15:2004 §9.5), the locus by Krystek's rational
// approximation (Color Research and Application 10, 1985; from memory), good to 1e-4 in u and v from 1000 to
// 15,000 K. Nothing beyond kWarmest..kColdest, or where |duv| > .05: CIE 15 calls no temperature there.
// Against the CIE's illuminants A, D50 and D65 and against lcms2 within .5 mired
// (tests/image/colour_temperature_test.cpp).
std::optional<ColourTemperature> temperature_of(const Chromaticity& xy);

// The inverse: the point `duv` from the locus, along its normal.
Chromaticity chromaticity_at(double mired, double duv);

}  // namespace burstsieve::image
