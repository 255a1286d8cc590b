#include "burstsieve/image/colour_temperature.h"

#include <cmath>

namespace burstsieve::image {
namespace {

struct Uv {
  double u = 0, v = 0;  // CIE 1960
};

Uv locus(double mired) {
  const double t = 1e6 / mired, t2 = t * t;
  return {
      (.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t2) / (1 + 8.42420235e-4 * t + 7.08145163e-7 * t2),
      (.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t2) / (1 - 2.89741816e-5 * t + 1.61456053e-7 * t2)};
}

// Unit vector across the locus, on the side of green.
Uv across(double mired) {
  const double step = .01;
  const Uv a = locus(mired - step), b = locus(mired + step);
  const double du = b.u - a.u, dv = b.v - a.v, length = std::hypot(du, dv);
  return {-dv / length, du / length};  // warmer is to the right, green is up
}

Uv uv_of(const Chromaticity& xy) {
  const double w = -2 * xy.x + 12 * xy.y + 3;
  return {4 * xy.x / w, 6 * xy.y / w};
}

// How far along the locus the colour lies ahead of its point there: 0 at the nearest point.
double ahead(const Uv& colour, double mired) {
  const Uv at = locus(mired), normal = across(mired);
  return (colour.u - at.u) * normal.v - (colour.v - at.v) * normal.u;
}

}  // namespace

// The matrices of IEC 61966-2-1:1999 in both directions, the second in seven digits (from memory; each
// other's inverse to 1e-6, see the test).
std::optional<Chromaticity> chromaticity_of(const std::array<double, 3>& rgb) {
  const auto [r, g, b] = rgb;
  const double x = .4123908 * r + .3575843 * g + .1804808 * b;
  const double y = .2126390 * r + .7151687 * g + .0721923 * b;
  const double z = .0193308 * r + .1191948 * g + .9505322 * b;
  const double sum = x + y + z;
  if (!(sum > 0) || !std::isfinite(sum)) return std::nullopt;
  return Chromaticity{x / sum, y / sum};
}

std::array<double, 3> linear_srgb_of(const Chromaticity& xy) {
  const double x = xy.x / xy.y, z = (1 - xy.x - xy.y) / xy.y;
  return {3.2409699 * x - 1.5373832 - .4986108 * z, -.9692436 * x + 1.8759675 + .0415551 * z,
          .0556301 * x - .2039770 + 1.0569715 * z};
}

std::optional<ColourTemperature> temperature_of(const Chromaticity& xy) {
  const Uv colour = uv_of(xy);
  if (!std::isfinite(colour.u) || !std::isfinite(colour.v)) return std::nullopt;
  double cold = kColdest, warm = kWarmest;
  if (!(ahead(colour, cold) >= 0) || !(ahead(colour, warm) <= 0)) return std::nullopt;
  for (int i = 0; i < 60; ++i) {  // far below a double's last bit
    const double middle = (cold + warm) / 2;
    (ahead(colour, middle) >= 0 ? cold : warm) = middle;
  }
  ColourTemperature out;
  out.mired = (cold + warm) / 2;
  out.kelvin = 1e6 / out.mired;
  const Uv at = locus(out.mired), normal = across(out.mired);
  out.duv = (colour.u - at.u) * normal.u + (colour.v - at.v) * normal.v;
  if (std::abs(out.duv) > .05) return std::nullopt;
  return out;
}

Chromaticity chromaticity_at(double mired, double duv) {
  const Uv at = locus(mired), normal = across(mired);
  const double u = at.u + duv * normal.u, v = at.v + duv * normal.v;
  const double w = 2 * u - 8 * v + 4;
  return {3 * u / w, 2 * v / w};
}

}  // namespace burstsieve::image
