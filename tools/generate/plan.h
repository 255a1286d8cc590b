// What is to be photographed: bursts of frames with their faults, chosen before anything is rendered.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "backdrop.h"
#include "bird.h"
#include "sensor.h"

namespace burstsieve::generate {

enum class MotionOf { none, subject, camera, pan };
enum class FocusOn { subject, background, foreground };
enum class Format { jpeg, dng, pair };
const char* name_of(MotionOf motion);
const char* name_of(FocusOn focus);

struct Camera {
  std::string make, model, serial, lens, prefix;
  double focal_mm = 600;
  double f_number = 5.6;
};

// Blur of the planes around the subject, px (lens and defocus together). Takes the place of what focus_on
// otherwise does to backdrop and reeds.
struct DepthBlur {
  double before = 12, behind = 9, backdrop = 12;
};

// A further bird at a distance of its own.
struct OtherBird {
  BirdPose bird;
  V2 at{.5, .5};       // centre of the body, fraction of the upright frame
  double scale = 300;  // full-size pixels per bird unit; larger than the frame's own: nearer, drawn over it
  double defocus_sigma = 0;  // px, added to the frame's lens_sigma in quadrature
};

struct FrameSpec {
  BirdPose bird;
  V2 at{.5, .5};             // centre of the body, fraction of the upright frame
  double scale = 400;        // full-size pixels per bird unit
  double shift_x = 0;        // of the view, frame heights
  double lens_sigma = .65;   // px, blur of a perfectly focused frame
  double defocus_sigma = 0;  // px, of the subject, added in quadrature
  double motion_px = 0;      // length of the streak
  double motion_deg = 0;     // 0 = horizontal, counter-clockwise positive, upright
  MotionOf motion_of = MotionOf::none;
  FocusOn focus_on = FocusOn::subject;
  std::optional<DepthBlur> depth;
  std::vector<OtherBird> others;
  double exposure_ev = 0;  // 0: sunlit white plumage about half a stop below clipping
  int iso = 800;
  double exposure_s = 1.0 / 2500;
  std::int64_t time_ms = 0;  // UTC
  std::uint64_t seed = 0;    // noise
  std::string stem;          // DCIM/100SALTM/BSG_0001
};

struct BurstSpec {
  std::string name;
  Camera camera;
  Scene scene = Scene::harbour_water;
  cv::Size size{900, 600};  // upright
  int orientation = 1;      // 1, 3, 6 or 8: how the stored picture must be turned
  Format format = Format::jpeg;
  int bits = 16;            // of DNG samples: 12 or 16
  int preview_divisor = 1;  // preview side = full side / this
  int quality = 92;
  Rendering rendering;        // of JPEGs and previews
  int supersample = 1;        // samples per pixel side for the bird
  double backdrop_sigma = 9;  // px, blur of the background when the subject is in focus
  int reeds = 0;              // reeds per frame width in the foreground; 0 none
  double reeds_sigma = 12;    // px
  double reeds_height = .42;  // of the frame
  int reeds_behind = 0;       // between subject and backdrop; drawn only in frames with `depth`
  double reeds_behind_height = .7, reeds_behind_root = .2;  // of the frame, from its lower edge
  bool demosaic = false;   // JPEG from the interpolated mosaic instead of three full planes
  std::uint32_t seed = 0;  // scenery
  std::vector<FrameSpec> frames;
};

struct PlanOptions {
  std::string set = "sample";  // sample, season, bench, faults, depth, several
  int bursts = 0;              // 0: the set's own number; ignored by sample and faults
  int frames = 0;              // per burst, likewise
  int width = 0, height = 0;   // 0: the set's own size
  std::uint64_t seed = 1;
  Format format = Format::jpeg;
  bool format_given = false;  // else the set chooses per burst
  bool demosaic = false;
};

// Throws nothing; an unknown set gives no bursts.
std::vector<BurstSpec> plan(const PlanOptions& options);

}  // namespace burstsieve::generate
