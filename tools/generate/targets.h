// Known-answer pictures for tests: what a measure must find in them follows from how they were made.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>

#include "sensor.h"

namespace burstsieve::generate {

// A straight edge through the centre, blurred by a Gaussian of `sigma_px` (evaluated exactly by the error
// function, no pixel box: add 1/12 px^2 to the variance yourself if you average over pixels). `angle_deg`: of
// the edge from vertical, counter-clockwise positive as seen. Levels .5 (1 - contrast) on the left and
// .5 (1 + contrast) on the right; contrast is Michelson's, 0..1. CV_32F, scene-linear.
cv::Mat1f render_edge(cv::Size size, double sigma_px, double angle_deg, double contrast);

// Dead leaves: discs covering each other, radii distributed as 1/r^3 between 1.5 px and a quarter of the
// shorter side, reflectance uniform .05 to .9, antialiased. Scale-invariant, like natural scenes (Lee,
// Mumford, Huang 2001, from memory). CV_32F, scene-linear.
cv::Mat1f render_dead_leaves(cv::Size size, std::uint64_t seed);

}  // namespace burstsieve::generate
