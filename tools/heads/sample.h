// Crops of animals whose heads are known, for fitting and for counting.
#pragma once
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/region.h"
#include "burstsieve/subject/detector.h"

namespace burstsieve::heads {

enum class Shown {
  visible,  // its eye, or more
  hidden,   // behind a wing, or tucked in
  no        // outside the frame, or behind reeds: says nothing about a wing over the head
};

struct Sample {
  std::string kind;  // "gull up", "cut-out owl"
  int burst = 0, frame = 0;
  cv::Mat bgr;              // the crop, longer side kHeadSide at most
  cv::Mat mask, mask_true;  // CV_8U, 255: animal; as the program finds it, and as it is
  Region crop;              // in the frame
  Region box;               // of the subject, in the frame
  int frame_width = 0, frame_height = 0;
  Shown shown = Shown::visible;
  cv::Point2d head;      // px of the crop
  double radius = 0;     // likewise
  double blur_px = 0;    // total, full-size px
  double per_pixel = 1;  // full-size px per px of the crop
  double moved_px = 0;   // streak, full-size px
  // Blur that the program reads from the whole subject, and from the head where it found one (else as
  // before); 0 where neither says enough.
  double blur_of_all = 0, blur_of_head = 0;
  bool faulty = false;  // blurred or moved beyond what the generator calls ruined
};

// Seasons of generated birds, a wing over the head in three of ten frames in flight. The focus area is not
// looked at: the camera's lies on the true head.
Result<std::vector<Sample>> generated(std::uint64_t seed, int bursts, subject::DetectorPool* detectors,
                                      int threads, int width = 900);

// The cut-outs of `truth` (tests/subject/data/heads.txt) with that use ("tune", "held"), from `folder`, each
// before `variants` backdrops at several sizes and mirrored.
Result<std::vector<Sample>> cut_outs(const std::string& folder, const std::string& truth,
                                     const std::string& use, int variants, std::uint64_t seed,
                                     subject::DetectorPool* detectors);

// Writes and reads a folder of samples (PNG and an index).
Status store(const std::string& folder, const std::vector<Sample>& samples);
Result<std::vector<Sample>> load(const std::string& folder);

}  // namespace burstsieve::heads
