// Near-duplicates inside a burst: same subject, same posture.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::group {

// 64-bit DCT sign hash of a grey picture (CV_8U, at least 8x8): the 8x8 lowest frequencies without the
// constant one, each compared with their mean (Zauner 2010; thresholds: Kouda 2017, similar <= 10 bits,
// different >= 20). Blind to: colour and detail finer than 1/16 of the picture.
std::uint64_t dct_hash(const cv::Mat& grey);

// Square picture of the subject with a rim, and its hash. Outside `mask` it fades to one grey: a background
// that slides past must not make two poses of one. Works on the full-size luma when the 1/8 image is too
// small.
PoseDescriptor describe_pose(const decode::Planes& planes, const cv::Mat& eighth, const Region& box,
                             const CellMask& mask);

struct PoseOptions {
  int same_bits = 10;       // 0..64: hashes this near are the same pose whatever else differs
  int different_bits = 26;  // same_bits..64: hashes this far are different poses
  double likeness = .80;    // 0..1: aligned correlation from which the pictures show the same posture
};

// Correlation of the two pictures after the best shift of up to 6 of 64 px, -1..1; exposure and contrast do
// not matter. -1 when either is missing.
double likeness(const PoseDescriptor& a, const PoseDescriptor& b);

bool same_pose(const PoseDescriptor& a, const PoseDescriptor& b, const PoseOptions& options);

// Group number per frame, 1-based in order of appearance; 0 for a frame without a picture. A frame joins the
// group whose first frame it is most like.
std::vector<int> pose_groups(const std::vector<const PoseDescriptor*>& frames, const PoseOptions& options);

}  // namespace burstsieve::group
