// Damage in a JPEG that its decoder does not notice.
//
// Blocks store their mean as the difference to the block before (ITU-T T.81 §F.1.2.1). Where a few broken
// bytes happen to fall back into step, every block of that component from there on is too bright or too dark
// by the same amount, and no decoder complains.
#pragma once
#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <optional>

namespace burstsieve::decode {

// plane: CV_8U, one component as decoded; mcu: the pixels of this component in one unit of the scan (8, 16 or
// 32 on a side). The row of the plane from which on it has drifted by 3 levels or more; nothing when it has
// not. Such a drift shows as a step between units above each other that begins anywhere in a row and ends
// exactly one row of units later, which nothing in a scene does.
// Blind to: a drift that begins at the edge of an empty bar (somebody drew a border) or in the last half row;
// to drifts below 3 levels; to damage in single blocks.
std::optional<int> drift_row(const cv::Mat& plane, cv::Size mcu);

// A quantisation table (row by row, 8 x 8) with an entry out of all proportion to its neighbours: encoders
// write smooth ones (T.81 §K.1), a flipped bit does not.
bool table_is_torn(const std::array<std::uint16_t, 64>& table);

}  // namespace burstsieve::decode
