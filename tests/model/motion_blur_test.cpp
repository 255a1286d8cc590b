// Worked values of the optics of motion blur.
#include "burstsieve/model/motion_blur.h"

#include <doctest/doctest.h>

#include <cmath>

#include "model/within.h"

using namespace burstsieve;

TEST_SUITE("model/motion_blur") {
  // Computed by hand from (v/d) f t / p: 17 m/s at 30 m, 600 mm, 1/2000 s, 4.3 um; 5 % left by panning.
  TEST_CASE("a bird at 17 m/s, 30 m off, 600 mm, 1/2000 s, 4.3 um draws 39.5 px; panned to 5 %, 2.0 px") {
    CHECK(within(expected_motion_px(17, 30, 600, 1.0 / 2000, 4.3), 39.5, .002));
    CHECK(within(expected_motion_px(.05 * 17, 30, 600, 1.0 / 2000, 4.3), 1.98, .003));
  }
  TEST_CASE("the streak gives the angular speed back: 17 m/s at 30 m are 32.5 degrees/s") {
    Capture c;
    CHECK_FALSE(implied_speed(c, 10).px_per_s);
    c.exposure_s = 1.0 / 2000;
    CHECK(within(*implied_speed(c, 10).px_per_s, 20000, 1e-9));
    CHECK_FALSE(implied_speed(c, 10).degrees_per_s);  // the pitch is unknown
    c.focal_mm = 600;
    c.pixel_pitch_um = 4.3;
    const double px = expected_motion_px(17, 30, 600, 1.0 / 2000, 4.3);
    CHECK(within(*implied_speed(c, px).degrees_per_s, 17.0 / 30 * 180 / 3.14159265, .001));
    CHECK(within(*implied_speed(c, px).px_per_degree_per_s * *implied_speed(c, px).degrees_per_s, px, 1e-9));
  }
}
