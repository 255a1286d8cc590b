// The frequencies of a spectrum that can show a streak, freed of what is not one.
#pragma once
#include <array>
#include <opencv2/core.hpp>
#include <vector>

#include "burstsieve/measure/spectrum.h"

namespace burstsieve::measure {

// What a texture does on its own: more power one way than the other, alike at every distance or slowly
// changing with it. Fitted beside the bars, so that grass or feathers do not pass for a streak.
inline constexpr int kOwn = 6;
using Sums = cv::Vec<double, kOwn>;
using Floats = std::vector<float>;

// Frequencies of the half plane that can be used, with what is known at each, in plain arrays for the
// vectoriser.
struct Points {
  Floats u, v;    // cycles/px, sensor layout, v down
  Floats data;    // log power less its ring's mean
  Floats weight;  // 0..1
  Floats floor;   // noise as a share of the signal that no streak touches
  std::vector<int> ring;
  int rings = 0;
  double reach = 0;
  double softness = 0;                 // px
  std::array<Floats, kOwn> own;        // harmonics, less their ring's mean
  std::array<Floats, kOwn> heavy_own;  // times weight
  Floats heavy_data;
  cv::Matx<double, kOwn, kOwn> inverse;  // of the harmonics' normal equations
  Sums of_data;                          // harmonics against data
  double energy = 0;                     // of the data beyond what the harmonics explain
  double width = 0;                      // px, of the spectrum's windows
  int side = 0;
  std::size_t size() const { return u.size(); }
};

double dot(const Floats& a, const Floats& b);
// Takes away the mean at every distance from the origin.
void centre_rings(const Points& p, Floats& values);
// Weighted products with every harmonic.
Sums against_own(const Points& p, const Floats& values);

// Empty where the spectrum has too few frequencies.
Points points_of(const Spectrum& s);
// One point in `stride`, for the steps that only need to find the right hill.
Points thinned(const Points& p, std::size_t stride);

}  // namespace burstsieve::measure
