// Did the colour of the light, or the camera's white balance, drift over an outing? Told by the white plumage
// of its bursts (measure white_mired), which is neutral by itself. Reported only: no verdict reads it, and no
// file is changed for it.
//
// A burst's estimate is the median of its frames, weighted by their confidence; its uncertainty, about two
// standard deviations, comes from the scatter of the frames and from what all frames of one burst have in
// common (this bird, this side of it). An outing is the bursts of one camera in order of time. A shift counts
// when it is larger than one and a half times the uncertainties of both ends together: three standard
// deviations, as many bursts are compared. Same bursts, same answer, measured now or remembered.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/outcome.h"

namespace burstsieve::report {

// The white plumage of one frame.
struct FrameLight {
  double mired = 0, duv = 0;
  double confidence = 0;  // 0..1
};
std::optional<FrameLight> frame_light(const FrameFacts& facts);

struct BurstLight {
  int number = 0;  // of the burst in the run; 0: unknown
  std::string camera;
  std::optional<std::int64_t> time_ms;  // of its first frame, as Capture::time_ms
  int utc_offset_minutes = 0;           // to the camera's own clock
  int frames = 0;                       // with an estimate
  double mired = 0, duv = 0;
  double uncertainty = 0;  // mired, either way
  double confidence = 0;   // mean of the frames
  bool confident() const { return confidence >= .45; }
};

// Nothing without frames. number, camera and time are the caller's to set.
std::optional<BurstLight> burst_light(const std::vector<FrameLight>& frames);
std::optional<BurstLight> burst_light(const BurstOutcome& burst);

// One camera's outing. Only confident bursts are in it; at least two.
struct LightDrift {
  std::string camera;
  std::vector<BurstLight> bursts;        // in order of time
  std::vector<double> shift;             // of each against `mired`
  double mired = 0;                      // median of the bursts
  bool constant = true;                  // no burst stands out from the median or from the one before it
  std::size_t coldest = 0, warmest = 0;  // places in `bursts`
  std::optional<std::size_t> step;       // the burst with the largest shift against the one before
  double step_mired = 0, step_uncertainty = 0;  // that shift; it counts where `step` is set
};
// Sorted by camera. Bursts whose time is unknown come last, in the order given.
std::vector<LightDrift> light_drift(std::vector<BurstLight> bursts);

// "160 mired (6250 K), 6 warmer than neutral, tint none", of the picture as rendered; tint against daylight.
std::string light_text(double mired, double duv);

// One line, without its end: "white plumage constant within 4 mired over 5 bursts (154 mired, ...)".
std::string drift_text(const LightDrift& drift);

}  // namespace burstsieve::report
