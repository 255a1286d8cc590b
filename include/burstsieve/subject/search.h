// The detector's search of one frame: the picture as a whole, then a closer look at the places that promise
// something. A small animal is seen only so; and what passes for an animal in the whole picture must pass
// there, too.
//
// Blind to: a bird below a twentieth of the frame's width that the camera did not focus on; what the detector
// is blind to.
#pragma once
#include <functional>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/subject/detector.h"
#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {

// The frame as the search sees it. Both pictures upright, CV_8UC3 BGR.
struct SearchInput {
  cv::Mat whole;  // of kDetectorSide px or more
  // Of a region, reduced to `side` px along its longer side or shorter (decode::picture_of_part).
  std::function<cv::Mat(const Region& region, int side)> part;
  double aspect = 1.5;               // width by height of the frame
  const Capture* capture = nullptr;  // its focus area; may be null
  const cv::Mat* energy = nullptr;   // energy_map(); may be null
};

// Of a decoded frame; what is given must outlive the result. capture: may be null.
SearchInput search_input(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& energy,
                         const Capture* capture);

struct SearchOptions {
  int crops = 5;      // closer looks at most, tiles apart; 0 and more
  bool tiles = true;  // with nothing seen so: the frame in six parts
};

// How much was done, for the bench and for tests.
struct SearchEffort {
  int whole = 0, crops = 0, tiles = 0;
};

// The animals of the frame, birds first, then by confidence. Errors: as Detector::detect.
Result<std::vector<Detection>> search_frame(DetectorPool& pool, const SearchInput& input,
                                            const SearchOptions& options = {},
                                            SearchEffort* effort = nullptr);

// The animal last seen in `box`, looked for there and around: one crop. Nothing when it is not seen; what is
// a fourth or four times its size is another, or a part of it.
Result<std::vector<Detection>> search_near(DetectorPool& pool, const SearchInput& input, const Region& box);

// The animals of the frame before, in this one. The first is looked for where its track leads (track.h): one
// crop, which draws its box anew. Where it is not seen there, and for the others, the track is taken as far
// as it is trusted, all links since the last sight together. Those that are lost are left out.
Result<std::vector<Detection>> follow_animals(DetectorPool& pool, const SearchInput& input,
                                              const std::vector<Detection>& animals, const Glance& before,
                                              const Glance& now);

}  // namespace burstsieve::subject
