// Worked and printed values of the optics of focus.
#include "burstsieve/model/depth_of_field.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "model/within.h"

using namespace burstsieve;

namespace {

constexpr double kFoot = .3048;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

// To a tenth of a foot, as the book prints it.
bool prints(double metres, double feet) {
  return std::round(metres / kFoot * 10) == std::round(feet * 10);
}

bool like_the_book(double circle_um) {
  const auto d = depth_of_field({155, 2.8}, circle_um, 10 * kFoot);
  return prints(d->near_m, 9.8) && prints(*d->far_m, 10.2);
}

Capture far_heron() {
  Capture c;
  c.focal_mm = 600;
  c.f_number = 4;
  c.pixel_pitch_um = 4.3;
  c.width = 8370;  // 24 x 36 mm
  c.height = 5580;
  c.distance = SubjectDistance{20, 19.2, 20.9, "test"};
  return c;
}

}  // namespace

TEST_SUITE("model/depth_of_field") {
  // A US Navy training text: 155 mm f/2.8 focused at 10 ft is sharp from 9.8 to 10.2 ft. It does not name its
  // circle. Any from 46 to 72 um prints so, as the 1/500 inch of medium formats does; the 30 um of 24 x 36 mm
  // print 9.9 to 10.1.
  TEST_CASE("155 mm f/2.8 at 10 ft: 9.8 to 10.2 ft, with a circle of 46 to 72 um") {
    CHECK(like_the_book(46));
    CHECK(like_the_book(50.8));
    CHECK(like_the_book(72));
    CHECK_FALSE(like_the_book(44));
    CHECK_FALSE(like_the_book(75));
    CHECK_FALSE(like_the_book(30));
  }
  // Computed by hand: H = 2500 / .24 + 50 mm.
  TEST_CASE("50 mm f/8 at 3 m, circle 30 um: H 10.467 m, 2.338 to 4.185 m") {
    CHECK(within(hyperfocal_m({50, 8}, 30), 10.467, .0001));
    const auto d = depth_of_field({50, 8}, 30, 3);
    CHECK(within(d->near_m, 2.338, .0002));
    CHECK(within(*d->far_m, 4.185, .0002));
  }
  TEST_CASE("600 mm f/4 at 20 m: .259 m deep with 30 um, .074 m with two pixels of 4.3 um") {
    const auto depth = [](double circle) {
      const auto d = depth_of_field({600, 4}, circle, 20);
      return *d->far_m - d->near_m;
    };
    CHECK(within(depth(30), .259, .002));
    CHECK(within(depth(8.6), .074, .003));
  }
  TEST_CASE("from the hyperfocal distance on all is sharp to infinity, from half of it") {
    const double h = hyperfocal_m({50, 8}, 30);
    const auto at = depth_of_field({50, 8}, 30, h);
    CHECK_FALSE(at->far_m);
    CHECK(within(at->near_m, h / 2, .01));
    CHECK_FALSE(depth_of_field({50, 8}, 30, 100)->far_m);
    CHECK(depth_of_field({50, 8}, 30, .999 * h)->far_m);
  }
  TEST_CASE("nonsense has no depth of field") {
    CHECK_FALSE(depth_of_field({600, 4}, 30, .5));  // within the focal length
    CHECK_FALSE(depth_of_field({600, 4}, 0, 20));
    CHECK_FALSE(depth_of_field({600, 0}, 30, 20));
    CHECK_FALSE(depth_of_field({std::nan(""), 4}, 30, 20));
    CHECK_FALSE(depth_of_field({600, 4}, 30, kInfinity));
    CHECK_FALSE(off_focus({600, 4}, 4.3, 20, -1));
  }
  // The definition of the depth of field, and the check of one formula by the other.
  TEST_CASE("at both ends of the depth of field the disc is the circle") {
    for (const Lens lens : {Lens{600, 4}, Lens{300, 2.8}, Lens{50, 8}})
      for (const double s : {3.0, 8.0, 20.0}) {
        const auto d = depth_of_field(lens, 30, s);
        CHECK(within(blur_disc_px(lens, 4.3, s, d->near_m), 30 / 4.3, 1e-6));
        if (d->far_m) CHECK(within(blur_disc_px(lens, 4.3, s, *d->far_m), 30 / 4.3, 1e-6));
      }
  }
  // f^2 / (N (s - f)): 360000 / (4 x 19400) = 4.639 mm.
  TEST_CASE("infinity behind a bird at 20 m draws 4.64 mm at 600 mm f/4: 1079 px of 4.3 um") {
    CHECK(within(blur_disc_px({600, 4}, 4.3, 20, kInfinity), 1078.9, .0005));
    CHECK(within(blur_disc_px({600, 4}, 4.3, 20, 1e9), 1078.9, .0005));
  }
  TEST_CASE("a disc gives both distances back, and nothing behind when not even infinity is so blurred") {
    const Lens lens{600, 4};
    for (const double d : {15.0, 19.5}) {
      const auto off = off_focus(lens, 4.3, 20, blur_disc_px(lens, 4.3, 20, d));
      CHECK(within(off->nearer_m, d, 1e-9));
    }
    for (const double d : {20.5, 40.0})
      CHECK(within(*off_focus(lens, 4.3, 20, blur_disc_px(lens, 4.3, 20, d))->farther_m, d, 1e-9));
    CHECK(off_focus(lens, 4.3, 20, 0)->nearer_m == 20);
    CHECK_FALSE(off_focus(lens, 4.3, 20, 1200)->farther_m);
  }
  // Sigma of a uniform disc: D / 4 along an axis (second moment D^2 / 16).
  TEST_CASE("the disc behind a blur: sigma 1 px over .8 px in focus is 2.4 px across") {
    CHECK(within(defocus_disc_px(1, .8), 2.4, 1e-9));
    CHECK(defocus_disc_px(.7, .8) == 0);
  }
  TEST_CASE("subjects are told inside and outside by their blur alone, doubt where 10 % decide") {
    CHECK(inside_depth_of_field(.8, .8, 2) == InDepth::inside);
    CHECK(inside_depth_of_field(.94, .8, 2) == InDepth::too_close_to_tell);  // 2 px: .943
    CHECK(inside_depth_of_field(1.1, .8, 2) == InDepth::outside);
    CHECK(inside_depth_of_field(1.1, .8, 29 / 4.3) == InDepth::inside);  // sharp on the whole picture
    CHECK(inside_depth_of_field(3, .8, 29 / 4.3) == InDepth::outside);
    CHECK(inside_depth_of_field(std::nan(""), .8, 2) == InDepth::too_close_to_tell);
    CHECK(inside_depth_of_field(1, 0, 2) == InDepth::too_close_to_tell);
  }
  TEST_CASE("a frame with all of it gets both circles; one without says what is missing") {
    const FrameDepth d = depth_of(far_heron());
    CHECK(d.missing.empty());
    CHECK(within(d.classic_um, 28.84, .001));  // 43.27 mm / 1500
    CHECK(d.pixels_um == doctest::Approx(8.6));
    CHECK(within(*d.pixels.far_m - d.pixels.near_m, .074, .003));
    Capture c = far_heron();
    c.distance.reset();
    c.f_number = 0;
    CHECK(depth_of(c).missing == "focus distance, aperture");
    c = far_heron();
    c.width = c.height = 160;  // a thumbnail that kept the original's tags
    CHECK(depth_of(c).missing.starts_with("sensor size"));
    c = far_heron();
    c.distance->metres = .3;
    CHECK_FALSE(depth_of(c).missing.empty());
  }
}
