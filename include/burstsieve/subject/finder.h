// Where is the animal? Several finders each name candidates; fusion orders them and keeps who said what.
#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/model/capture.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/subject/detector.h"

namespace burstsieve::subject {

// A small grey picture of a frame, kept until the next frame of the burst has been compared with it.
struct Glance {
  cv::Mat grey;  // CV_32F 0..1, longest side 256 px, upright
};
Glance glance_at(const cv::Mat& eighth);  // CV_8UC3 BGR, upright

struct FinderInput {
  const cv::Mat* eighth = nullptr;  // CV_8UC3 BGR, upright, 1/8 size
  const cv::Mat* energy = nullptr;  // energy_map() of the upright activity map
  const Capture* capture = nullptr;
  const Glance* now = nullptr;
  const Glance* previous = nullptr;                    // of the frame before in the burst; null for the first
  const std::vector<Detection>* detections = nullptr;  // of this frame; null when no detector is at work
};

// One finder. Appends candidates, each with its source and confidence.
using Finder = void (*)(const FinderInput& input, std::vector<Subject>& out);

void find_by_af_area(const FinderInput& input, std::vector<Subject>& out);
void find_by_focus_energy(const FinderInput& input, std::vector<Subject>& out);
void find_by_burst_motion(const FinderInput& input, std::vector<Subject>& out);
void find_by_detector(const FinderInput& input, std::vector<Subject>& out);

// Candidates of all finders, merged where they agree (overlap >= .3: confidences combine as independent
// witnesses and the sources are joined), best first. At most 4. Empty when nothing stands out (fog, black
// frame). What another finder sees inside a detector's box vouches for that box, too: the detector's is an
// animal's outline, the others' the detail or the movement of a part of it.
std::vector<Subject> find_subjects(const FinderInput& input);
std::vector<Subject> fuse(std::vector<Subject> candidates);

// Where inside the subject sharpness is asked for: its head when known; else what the camera focused on, when
// that is a part of the subject (with an animal-aware camera the head); else the whole box.
Region region_that_must_be_sharp(const Subject& subject, const Capture& capture);

}  // namespace burstsieve::subject
