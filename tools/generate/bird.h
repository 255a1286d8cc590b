// An invented bird, built feather by feather on a jointed skeleton and projected to pixels.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>

#include "canvas.h"

namespace burstsieve::generate {

enum class Species { gull, tern, avocet, egret };
enum class Pose { up, level, down, perched, feeding };
const char* name_of(Species species);
const char* name_of(Pose pose);

struct BirdPose {
  Species species = Species::gull;
  Pose pose = Pose::level;     // gull and tern: any but feeding; avocet and egret: perched or feeding
  double flap_offset_deg = 0;  // small change of the wing within the pose
  double yaw_deg = 18;         // positive: turned towards the camera
  double elevation_deg = 6;    // positive: the camera looks down on the bird
  double roll_deg = 12;        // positive: banked towards the camera
  double pitch_deg = 4;        // positive: nose up
  bool faces_left = false;
  bool wing_over_head = false;  // swings the near wing forward across the head
  std::uint32_t seed = 1;       // plumage
};

struct Sprite {
  cv::Rect area;     // where it lies, in samples of the frame's grid
  cv::Mat4f colour;  // premultiplied scene-linear RGB and coverage
  cv::Mat1f white;   // coverage by near-white plumage, 0..1
  cv::Mat1b parts;   // Part
  V2 head;           // centre of the head in samples
  double head_radius = 0;
  double eye_seen = 0;  // 0..1: share of the eye that nothing covers (the frame's edge does not count)
};

// `centre`: where the middle of the body comes to lie, in samples; `scale`: samples per bird unit (one unit
// is about the length from bill to tail of a gull). Only samples inside `limit` are painted. The same
// arguments give the same sprite; rows are painted in parallel where OpenCV may use threads.
Sprite render_bird(const BirdPose& pose, V2 centre, double scale, cv::Rect limit);

// Width of the bird's outline in bird units for that pose (bounding box of what is painted).
cv::Rect2d bird_extent(const BirdPose& pose);

}  // namespace burstsieve::generate
