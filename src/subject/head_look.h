// What is looked at to tell a head: the picture of an animal at several scales, and around every place a
// pattern of samples laid along the line from the body to that place.
#pragma once
#include <array>
#include <cstddef>
#include <opencv2/core.hpp>
#include <vector>

namespace burstsieve::subject {

// Radii of heads looked for, px of a crop whose longer side is kHeadSide: steps of 1.35 from a heron in
// flight to an owl's face.
inline constexpr std::array<double, 7> kHeadRadii{7, 9.5, 12.8, 17.3, 23.3, 31.5, 42.5};
inline constexpr int kLookRadius = 6;  // px of the head in the picture scaled for it
inline constexpr std::array<double, 5> kRings{.5, 1, 1.6, 2.4, 3.4};  // of the pattern, head radii
inline constexpr std::array<double, 3> kEyeRings{0, .35, .65};
inline constexpr std::size_t kChannels = 6;  // light, warmth, saturation, gradient, animal, alignment
inline constexpr std::size_t kPlaceFeatures = 14;
// Five directions (along, 45, 90, 135 degrees to either side, back) in each ring, and the centre.
inline constexpr std::size_t kLookFeatures = kChannels * (1 + 5 * kRings.size()) + 11 + kPlaceFeatures;
using LookFeatures = std::array<float, kLookFeatures>;

// An animal's picture prepared for looking.
class HeadLook {
 public:
  // bgr: CV_8UC3; mask: CV_8U of the same size, not 0: animal. A smaller picture is enlarged to kHeadSide, up
  // to twice.
  HeadLook(const cv::Mat& bgr, const cv::Mat& mask);
  // False where there is too little to look at: below 24 px, or less than 150 px of animal.
  bool usable() const { return usable_; }

  struct Place {
    std::size_t scale = 0;  // of kHeadRadii
    int x = 0, y = 0;       // px of that scale's picture
  };
  // Every second pixel on the animal (and a pixel beside it), at every scale whose head would be less than
  // half of the animal.
  std::vector<Place> places() const;
  cv::Point2d in_crop(const Place& p) const;  // px of the crop given
  double radius_in_crop(const Place& p) const { return kHeadRadii[p.scale] / enlarged_; }
  void features(const Place& p, LookFeatures& out) const;
  // The strongest symmetry of an eye's size within .65 head radii, in standard deviations of the animal's
  // light.
  double eye_at(const Place& p) const { return levels_[p.scale].eye_near.at<float>(p.y, p.x); }
  cv::Point2d eye_place(const Place& p) const;  // px of the crop given

  double root_area() const { return root_area_; }  // sqrt of the animal's pixels
  cv::Point2d core() const { return core_; }     // of the body: pixels weighted by the square of their depth
  double contrast() const { return contrast_; }  // standard deviation of the animal's light, 0..1
  double detail() const { return detail_; }      // mean gradient of the animal over its contrast, per px
  double enlarged() const { return enlarged_; }
  double aligned() const { return aligned_; }  // share of the animal whose texture runs one way

 private:
  struct Level {
    double shrink = 1;                            // level px per crop px
    std::array<cv::Mat, kChannels> fine, coarse;  // CV_32F
    cv::Mat eye, eye_near, depth;
  };
  bool usable_ = false;
  cv::Size size_;
  double enlarged_ = 1;
  double root_area_ = 0, contrast_ = 0, detail_ = 0, aligned_ = 0, depth_ = 0;
  cv::Point2d core_;
  std::array<Level, kHeadRadii.size()> levels_;
};

}  // namespace burstsieve::subject
