// Colour temperature against the CIE's illuminants and against lcms2, which interpolates Robertson's table.
#include "burstsieve/image/colour_temperature.h"

#include <doctest/doctest.h>
#include <lcms2.h>

#include <cmath>

using namespace burstsieve;
using image::Chromaticity;

namespace {

bool near(double a, double b, double within) {
  return std::abs(a - b) <= within;
}

}  // namespace

TEST_SUITE("image/colour_temperature") {
  // Chromaticities and temperatures of the illuminants: CIE 15:2004 (tables T.3 and 3; from memory).
  // Distances of daylight from the Planckian locus: .0032 to .0033 (from memory, of D65 and D50).
  TEST_CASE("CIE illuminants A, D50, D55, D65 and D75") {
    struct Known {
      Chromaticity xy;
      double kelvin, duv;
    };
    for (const Known& k : {Known{{.44757, .40745}, 2856, 0}, Known{{.34567, .35850}, 5003, .0033},
                           Known{{.33242, .34743}, 5503, .0033}, Known{{.31272, .32903}, 6504, .0032},
                           Known{{.29902, .31485}, 7504, .0031}}) {
      const auto t = image::temperature_of(k.xy);
      REQUIRE(t);
      CAPTURE(k.kelvin);
      CAPTURE(t->kelvin);
      CHECK(near(t->mired, 1e6 / k.kelvin, .25));
      CHECK(near(t->duv, k.duv, .0002));
      CHECK(near(t->kelvin * t->mired, 1e6, .001));
    }
  }

  TEST_CASE("along daylight, 4000 to 14,000 K, within .5 mired of lcms2 in both directions") {
    for (double kelvin = 4000; kelvin <= 14'000; kelvin += 500) {
      cmsCIExyY white{};
      REQUIRE(cmsWhitePointFromTemp(&white, kelvin));  // the CIE's formula of daylight
      const auto t = image::temperature_of({white.x, white.y});
      REQUIRE(t);
      CAPTURE(kelvin);
      CHECK(near(t->mired, 1e6 / kelvin, .5));
      CHECK(t->duv > .0015);
      CHECK(t->duv < .0040);
      double again = 0;
      REQUIRE(cmsTempFromWhitePoint(&again, &white));
      CHECK(near(t->mired, 1e6 / again, .5));
    }
  }

  // Not from 300 to 350 mired: Robertson's table has a known misprint at 325 (u .24702 for .24792; from
  // memory), with which lcms2 runs 2 mired off between the neighbours of that line.
  TEST_CASE("off the locus, 2000 to 12,500 K, within .5 mired of lcms2") {
    for (double mired = 80; mired <= 500; mired += mired == 300 ? 60 : 20)
      for (const double duv : {-.01, 0.0, .01}) {
        const Chromaticity xy = image::chromaticity_at(mired, duv);
        const cmsCIExyY white{xy.x, xy.y, 1};
        double kelvin = 0;
        REQUIRE(cmsTempFromWhitePoint(&kelvin, &white));
        CAPTURE(mired);
        CAPTURE(duv);
        CHECK(near(mired, 1e6 / kelvin, .5));
      }
  }

  TEST_CASE("there and back; neutral sRGB is D65; no temperature far from the locus") {
    for (double mired = 70; mired <= 580; mired += 15)
      for (const double duv : {-.03, 0.0, .004, .03}) {
        const auto t = image::temperature_of(image::chromaticity_at(mired, duv));
        REQUIRE(t);
        CHECK(near(t->mired, mired, 1e-6));
        CHECK(near(t->duv, duv, 1e-8));
        const auto rgb = image::linear_srgb_of(image::chromaticity_at(mired, duv));
        const auto xy = image::chromaticity_of(rgb);
        REQUIRE(xy);
        CHECK(near(xy->x, image::chromaticity_at(mired, duv).x, 2e-6));
      }
    const auto white = image::chromaticity_of({1, 1, 1});
    REQUIRE(white);
    CHECK(near(white->x, .31272, .0001));
    CHECK(near(white->y, .32903, .0001));
    CHECK_FALSE(image::temperature_of({.3, .6}));    // sRGB green
    CHECK_FALSE(image::temperature_of({.15, .06}));  // sRGB blue
    CHECK_FALSE(image::temperature_of({.64, .33}));  // sRGB red
    CHECK_FALSE(image::chromaticity_of({0, 0, 0}));
    CHECK_FALSE(image::chromaticity_of({std::nan(""), 1, 1}));
  }
}
