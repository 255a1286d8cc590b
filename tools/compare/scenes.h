// Frames of known blur: drawn targets and real photographs blurred further.
#pragma once
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/region.h"

namespace burstsieve::compare {

struct Scene {
  std::string name;
  cv::Mat linear;  // CV_32F, 1 = clip
  Region region;   // what is measured
  cv::Mat colour;  // CV_32FC3, B G R, white-balanced; empty: grey
};

enum class Target { leaves, edge };
// A target of known sigma (tests/measure/targets.h) above a smooth sky, where noise can be seen. `seed` also
// turns the edge.
Scene target(Target kind, double sigma, unsigned seed);
// The same in colour: every leaf, every side of an edge has a tint of its own.
Scene coloured_target(Target kind, double sigma, unsigned seed);

// The photographs that are found: below `cache` (tools/test-data.sh), or where Debian installs them. Linear
// luma; large ones cut down around the region.
std::vector<Scene> photographs(const std::string& cache);

Scene blurred(const Scene& scene, double sigma);

// As the sensor and the sRGB curve give it; noise: standard deviation at .3 of the clip, shot and read noise
// as 9 : 1.
cv::Mat developed(const Scene& scene, double noise, unsigned seed, double gain = 1);

}  // namespace burstsieve::compare
