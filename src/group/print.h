// The picture of an animal as two of them are compared: its drawn lines by direction and its silhouette, at
// several sizes, so that a box that is cut a little tighter or wider makes no other posture of it.
#pragma once
#include <array>
#include <cstddef>
#include <vector>

#include "burstsieve/model/measure.h"

namespace burstsieve::group {

inline constexpr int kPrintSide = 32;   // cells of a size's canvas; the tile at its own size takes 20
inline constexpr int kPrintReach = 3;   // cells that two animals are shifted over each other
inline constexpr int kPrintLayers = 3;  // gradient across, gradient down, silhouette

// Sizes it is drawn at; the middle one is its own. Boxes of one bird differ by up to a third either way.
inline constexpr std::array kPrintSizes{.71, .80, .89, 1.0, 1.12, 1.26, 1.41};
inline constexpr std::size_t kOwnSize = 3;

// Every size has its silhouette's centre of mass in the middle of the canvas, and energy 1, half of it in the
// gradients: the product of two prints is a correlation of 0..1 for silhouettes and -1..1 for gradients,
// averaged.
struct PosePrint {
  // Layer after layer, row-major; kPrintLayers * kPrintSide^2.
  std::array<std::vector<float>, kPrintSizes.size()> sizes;
  std::vector<float> own;  // the own size with a rim of kPrintReach cells of nothing
  bool empty() const { return own.empty(); }
};

// Empty for a descriptor without a tile, and for one with nothing in it.
PosePrint print_of(const PoseDescriptor& picture);

// -1..1, the best over shifts and sizes; exposure and contrast do not matter. -1 when either is empty.
double likeness(const PosePrint& a, const PosePrint& b);

}  // namespace burstsieve::group
