// Slanted-edge spatial frequency response: the instrument that the blur measures are held against.
//
// Method of ISO 12233 (steps as listed in docs/measures.md): row by row the edge is found as the centroid of
// the windowed derivative; a polynomial through the centroids is the edge; every pixel goes into a bin of 1/4
// px by its distance along the edge's normal; the derivative of the binned edge is the line spread, and the
// modulus of its windowed Fourier transform, corrected for the finite difference and for the width of the
// bins, is the response.
#pragma once
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve::sfr {

struct Options {
  // Degree of the polynomial through the edge, 1..5. 1: a straight edge (the older standard); 5: lens
  // distortion may bend it (practice since 2023). Lowered when the region has few rows.
  int degree = 5;
  Status check() const;
};

struct Response {
  double edge_degrees = 0;           // of the edge itself: (-90, 90], 0 = horizontal, counter-clockwise
  double contrast = 0;               // bright side minus dark side, linear, 1 = clip
  int rows = 0;                      // rows (or columns) that showed the edge
  double mtf50 = 0, mtf10 = 0;       // cycles/px where the response first falls to .5 and .1; 0: it does not
  std::optional<double> first_null;  // cycles/px; 1/L for motion over L px, 1.2197/D for a disc of D px
  std::vector<double> frequency;  // 0, .005, .. 1 cycles/px; beyond .5 is aliased in a single row, not here
  std::vector<double> value;      // response, 1 at frequency 0
};

// linear: CV_32F, one channel, scene-linear, holding one edge between two even sides, nothing else. The
// edge should lie 2 to 43 degrees off the columns or the rows (5 is usual), with 10 px or more on either
// side. Errors (unsupported): too small, no edge, an edge that leaves the region, one that lies along the
// grid. Blind to: clipping and a tone curve that was not undone, which look like another response.
Result<Response> slanted_edge(const cv::Mat& linear, const Options& options);

// The response at a frequency, interpolated; 0 outside the table.
double response_at(const Response& response, double frequency);

}  // namespace burstsieve::sfr
