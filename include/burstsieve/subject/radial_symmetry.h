// Fast radial symmetry: where a picture holds small round dark things, such as an eye.
#pragma once
#include <opencv2/core.hpp>

namespace burstsieve::subject {

// The transform of G. Loy and A. Zelinsky, "Fast radial symmetry for detecting points of interest", IEEE PAMI
// 25(8), 2003 (from memory), for one radius and dark things only: every pixel votes for the pixel `radius` px
// up or down its gradient; here down, towards the dark. Votes and summed gradients, with the paper's
// saturation k_n (8 for radius 1, else 9.9) and radial strictness 2, spread by a Gaussian of sigma .25 radius
// whose weights sum to the radius.
//
// grey: CV_32F. radius: 1..64 px. `weakest`: gradients (central differences, levels per px) below it do not
// vote. Returns CV_32F of the same size, >= 0, in the unit of grey: a disc of contrast c and that very radius
// shows at its centre as a multiple of c; a straight edge as next to nothing. Empty for an empty picture.
// Blind to: what is not round, and what a neighbour of the same size covers in part.
cv::Mat dark_symmetry(const cv::Mat& grey, int radius, float weakest);

}  // namespace burstsieve::subject
