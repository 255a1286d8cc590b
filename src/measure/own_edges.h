// Which edges of a picture are a subject's own, by the mask of it.
#pragma once
#include <opencv2/core.hpp>

#include "burstsieve/model/measure.h"

namespace burstsieve::measure {

class OwnEdges {
 public:
  OwnEdges() = default;  // nothing is known: every edge may be the subject's
  // picture: the size of the luma, in the sensor's layout. Nothing is known of a mask that is not trusted.
  OwnEdges(const CellMask& mask, int orientation, cv::Size picture);
  bool known() const { return !places_.empty(); }
  // Share of the rectangle (px of the luma) that lies in the mask; 1 when nothing is known.
  double share_of(const cv::Rect& pixels) const;
  // An edge at (x, y), px of the luma, whose gradient is (gx, gy). Deep in the mask every edge is the
  // subject's. Near its outline, two cells inside and a cell or 4 px outside, the subject's own outline lies,
  // but also what is behind it, as the mask is right to a cell or two: only edges along the outline count.
  bool holds(double x, double y, float gx, float gy) const;

 private:
  bool cell_of(double x, double y, cv::Point& cell) const;
  double left_ = 0, top_ = 0, cell_w_ = 1, cell_h_ = 1;  // px
  cv::Mat1b places_;   // 0 elsewhere, 1 beside the outline, 2 along it inside, 3 deep inside
  cv::Mat2f normals_;  // unit vectors across the outline
};

}  // namespace burstsieve::measure
