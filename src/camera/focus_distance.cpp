#include "burstsieve/camera/focus_distance.h"

#include <algorithm>
#include <utility>

namespace burstsieve::camera {
namespace {

bool plausible(double metres) {
  return metres >= kNearest && metres <= kFarthest;  // false for NaN
}

}  // namespace

bool set_distance(Capture& capture, double metres, std::string source) {
  if (capture.distance || !plausible(metres)) return false;
  capture.distance = SubjectDistance{metres, {}, {}, std::move(source)};
  return true;
}

bool set_distance_between(Capture& capture, double one, double other, std::string source) {
  if (capture.distance || !plausible(one) || !plausible(other)) return false;
  const double nearest = std::min(one, other), farthest = std::max(one, other);
  const double middle = std::clamp(2 / (1 / nearest + 1 / farthest), nearest, farthest);
  capture.distance = SubjectDistance{middle, nearest, farthest, std::move(source)};
  return true;
}

}  // namespace burstsieve::camera
