// What lies behind and in front of the bird: procedural harbour and salt marsh, with many octaves of detail
// so that amplitude falls about as 1/frequency.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>

namespace burstsieve::generate {

enum class Scene { harbour_water, harbour_wall, marsh_grass, marsh_water, sky };

// Scene-linear RGB (1 = white reflector in full sun; glints go above), `size` pixels. `shift_x`, `shift_y`:
// how far the view has moved, in frame heights. `blur_sigma`: the Gaussian blur in pixels that it is returned
// with; a large blur is computed from fewer samples.
cv::Mat3f render_backdrop(Scene scene, cv::Size size, double shift_x, double shift_y, double blur_sigma,
                          std::uint32_t seed);

// Reeds between camera and bird: premultiplied RGB and coverage, same conventions. `density` reeds per frame
// width, rising to about `height` (0..1 of the frame) above `root`, which counts from the lower edge.
cv::Mat4f render_reeds(cv::Size size, double shift_x, double blur_sigma, int density, double height,
                       std::uint32_t seed, double root = -.02);

}  // namespace burstsieve::generate
