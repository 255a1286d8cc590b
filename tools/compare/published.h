// Published sharpness measures without a reference picture, to compare ours with. Each takes a CV_8UC1
// picture as it is encoded, as their authors do, of at least 32 x 32 pixels.
#pragma once
#include <opencv2/core.hpp>
#include <span>
#include <string_view>

namespace burstsieve::compare {

// Variance of the 4-neighbour Laplacian. Higher is sharper.
double laplacian_variance(const cv::Mat& luma);

// Mean of the squared Sobel gradient (Tenenbaum 1970; Krotkov 1987). Higher is sharper.
double tenengrad(const cv::Mat& luma);

// The same without 24 s^2, the energy of white noise, s by the median absolute deviation of the diagonal
// second difference. Higher is sharper; may be negative.
double tenengrad_without_noise(const cv::Mat& luma);

// Crete, Dolmiere, Ladret, Nicolas: "The blur effect", Proc. SPIE 6492 (2007): how much of the neighbours'
// variation a box filter of 11 removes. Our own port of the definition as scikit-image 0.19 has it
// (blur_effect with its defaults), within 1e-3 of it (tests/compare). 0..1, lower is sharper.
double crete_blur(const cv::Mat& luma);

// Zhan and Zhang, "No-reference image sharpness assessment based on maximum gradient and variability of
// gradients", IEEE TMM 20(7) 2018: maximum of the gradient to the power .61 times its variability (standard
// deviation over mean) to the power .39. Formula and exponents from memory. Higher is sharper.
double zhan_sharpness(const cv::Mat& luma);

// Vu and Chandler, "A fast wavelet-based algorithm for global and local image sharpness estimation", IEEE SPL
// 19(7) 2012: log energies of three levels of the 9/7 wavelet, the diagonal weighted .8, level n weighted
// 2^(3-n). From memory. Higher is sharper.
double fish_sharpness(const cv::Mat& luma);

struct Published {
  std::string_view name;
  double (*value)(const cv::Mat& luma);
  bool lower_is_sharper = false;
};
std::span<const Published> published();

}  // namespace burstsieve::compare
