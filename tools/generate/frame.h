// Renders one frame of a plan and states what is true of it.
#pragma once
#include <array>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/model/region.h"
#include "files.h"
#include "plan.h"

namespace burstsieve::generate {

// Where a fault ruins a frame. Our own choice, stated so that a test can be held against it.
struct RuinLimits {
  double blur_sigma_px = 2.2;  // total, of the subject
  double motion_px = 6;        // of subject or camera; a pan does not count
  double white_clipped = .05;  // of the white plumage, in any channel
  double cut_by_edge = .1;     // of the outline
};
inline constexpr RuinLimits ruin_limits{};
// Below the ruin limits a fault is still named from here on.
inline constexpr double soft_from_sigma_px = 1.0;
inline constexpr double motion_from_px = 1.5;

// Clipping over the white plumage, from the noise-free picture.
struct Whites {
  std::array<double, 3> clipped{0, 0, 0};  // fraction 0..1, R G B
  double headroom_ev = 0;                  // stops from the brightest 0.5 % to the first channel's clip, >= 0
};

// What is true of a further bird.
struct OtherTruth {
  Region subject;            // of what the frame shows of it
  double blur_sigma_px = 0;  // as FrameTruth's
  double cut_by_edge = 0;    // likewise
};

struct FrameTruth {
  std::vector<std::string> files;
  std::int64_t time_ms = 0;
  std::string pose;
  Region subject, head;
  bool head_visible = true;
  double blur_sigma_px = 0;  // Gaussian equivalent of lens, defocus and pixel box
  double motion_px = 0, motion_deg = 0;
  std::string motion_of, focus_on;
  Whites raw;              // of the mosaic: each channel at its own sites
  Whites jpeg;             // of the developed picture, after white balance
  double cut_by_edge = 0;  // share of the visible outline that lies on the frame's edge
  double exposure_ev = 0;
  int iso = 0;
  std::vector<std::string> faults;
  bool ruined = false;
  bool best_of_pose = false;
  std::vector<OtherTruth> others;  // in the plan's order
};

struct RenderedFrame {
  cv::Mat3f light;       // stored layout, noise-free, white-balanced, 1 = green clips
  cv::Mat1b white_mask;  // stored layout, 255 where near-white plumage covers more than half of a pixel
  // stored layout, 255 where the bird shows: more than half of the light is its own (blur spreads it), not
  // that of what stands before it.
  cv::Mat1b subject_mask;
  FrameTruth truth;  // without files and best_of_pose
};

RenderedFrame render_frame(const BurstSpec& burst, const FrameSpec& frame);

// Recounts; `mask` as above.
Whites whites_of_mosaic(const cv::Mat1w& noise_free, const cv::Mat1b& mask, const SensorLevels& levels);
Whites whites_of_developed(const cv::Mat3f& light, const cv::Mat1b& mask);

struct FileBytes {
  std::string name;  // relative to the output folder
  ByteBuffer bytes;
};
SensorLevels levels_for(int bits);
// The photographs of a rendered frame: noise, mosaic, development, metadata. Consumes `frame.light`.
std::vector<FileBytes> photograph(const BurstSpec& burst, const FrameSpec& spec, RenderedFrame& frame);

// Total blur by which frames of a pose are ordered: sigma and streak as one standard deviation in px.
double total_blur(const FrameTruth& t);
// Marks exactly one best frame for each pose.
void choose_best(std::vector<FrameTruth>& frames);

}  // namespace burstsieve::generate
