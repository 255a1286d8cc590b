// Pictures of known truth: real cut-outs of animals, small, on real photographs without any.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "look.h"
#include "score.h"

namespace burstsieve::subject_check {

struct Composite {
  cv::Mat picture;  // CV_8UC3 BGR, 3:2
  Region truth;     // of what is opaque
};

// `cutout` (CV_8UC4, its alpha the outline) `width` of the frame wide on a window of `backdrop` (CV_8UC3).
// The frame is as wide as leaves the cut-out unenlarged, 1200 to 3000 px. Its edge is as soft as a lens
// leaves it (sigma .8 to 1.3 px), its grain that of the backdrop, its light .8 to 1.1 of its own, mirrored or
// not; place, light and window follow from `seed`. Empty when the cut-out has no alpha or hardly a pixel.
Composite composite(const cv::Mat& cutout, const cv::Mat& backdrop, double width, std::uint64_t seed);

struct ComposeOptions {
  std::vector<double> widths{.20, .10, .05};  // shares of the frame's width
  int count = 40;                             // composites of each width, and windows without an animal
  std::uint64_t seed = 1;                     // below 5000: what thresholds were tuned on
  bool focus = false;  // the camera focused on the animal, off its middle by up to a quarter of its sides
};

struct Composed {
  double width = 0;  // 0: windows of the backdrops, nothing in them
  int pictures = 0;
  int detected = 0;  // a box of the detector overlaps the animal by half; without one: it said anything
  int first = 0;     // the first subject does
};

struct ComposedCheck {
  std::vector<Composed> rows;
  std::vector<Error> errors;
};

// cutouts: a folder of PNG files with alpha, its subfolders left out; backdrops: pictures without an animal.
// Cut-outs below 150 px and backdrops below 1000 px take no part. Error: none of either.
Result<ComposedCheck> check_composed(const std::string& cutouts, const std::vector<std::string>& backdrops,
                                     const ComposeOptions& options, subject::DetectorPool* detectors);

}  // namespace burstsieve::subject_check
