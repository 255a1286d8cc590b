// The one way a focus distance enters a Capture.
#pragma once
#include <string>

#include "burstsieve/model/capture.h"

namespace burstsieve::camera {

// Metres. Nearer is inside a lens, farther is infinity for every lens: at 800 mm f/5.6 the hyperfocal
// distance is 4 km.
inline constexpr double kNearest = .005, kFarthest = 10'000;

// Sets capture.distance unless it is known already. False, and nothing changes, where the number is not
// finite or outside kNearest..kFarthest: makers write 0 and their largest number for unknown and infinity.
bool set_distance(Capture& capture, double metres, std::string source);

// The same for a step of a scale: `one` and `other` are its ends in either order. The distance is their
// harmonic mean: focusing scales step evenly in 1/distance, near enough. False where either end is nonsense.
bool set_distance_between(Capture& capture, double one, double other, std::string source);

}  // namespace burstsieve::camera
