// Near-duplicates inside a burst: same subject, same posture.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/base/result.h"
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
  // 0..1: average likeness from which frames show the same posture. Set on seed 7001 of the generated season,
  // above where the index is best (.77 to .80): two postures in one group cost a keep, one in two groups
  // costs a look. Held-out figures in docs/verdicts.md.
  double likeness = .83;
  Status check() const;
};

// How alike two pictures are after the best shift and change of size (to .7 and 1.4 of it): correlation of
// the drawn lines by direction, averaged with that of the silhouettes, -1..1; exposure, contrast and small
// blur do not matter. A mirrored picture is another one. -1 when either is missing or shows nothing. Blind
// to: what is smaller than a twentieth of the subject (an eyelid).
double likeness(const PoseDescriptor& a, const PoseDescriptor& b);

// Group number per frame, 1-based in order of appearance; 0 for a frame without a picture. Groups by average
// likeness, 64 frames at a time; later frames join groups of earlier ones, or found new ones. About .1 ms for
// each pair of 64 frames.
std::vector<int> pose_groups(const std::vector<const PoseDescriptor*>& frames, const PoseOptions& options);

}  // namespace burstsieve::group
