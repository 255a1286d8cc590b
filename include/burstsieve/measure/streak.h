// Motion blur seen in the power spectrum of a region.
//
// Uniform motion over L px along an angle a multiplies the picture's power spectrum by sinc^2(L s), where s
// is the frequency along a: dark bars across the spectrum at s = 1/L, 2/L, ... (angle and length from the
// spectrum: Moghaddam & Jamzad 2007, Liang et al. 2013). What a picture's own texture, an isotropic blur and
// noise put there depends mainly on the distance from the origin, so at every distance the mean over all
// directions is taken away; the texture's own preference for directions is fitted as smooth harmonics; what
// remains is compared, by least squares in the logarithm, with the bars of every length and angle above the
// picture's own noise floor. Below some 5 px, and in noise, the bars go under; there the widths of edges by
// direction, sigma^2(t) = s0^2 + (L^2/12) cos^2(t - a), decide. Both are climbed together as one likelihood.
#pragma once
#include "burstsieve/measure/detail.h"
#include "burstsieve/measure/spectrum.h"

namespace burstsieve::measure {

struct Streak {
  double length = 0;   // px of luma, 0 or 2.6..50; 0: no streak was seen
  double degrees = 0;  // (-90, 90], upright frame, 0 = horizontal, counter-clockwise
  // 0..1: probability that length (1.5 px or 10 %) and direction (4 degrees) are right; without a streak,
  // that there is none of 3 px or more. Fitted to generated cases (tests/measure/motion_cases.h). 0: nothing
  // could be told.
  double confidence = 0;
  // Blur across the streak, or in all directions where there is none, as the sigma of a Gaussian, px of luma:
  // how much faster the spectrum falls than 1/f^2.4, the usual power law of textures. Good to about 40 %.
  double softness = 0;
  // What the search saw, for tests and tuning.
  double share = 0;         // of the spectrum's differences between directions that the best bars explain
  double bars = 0;          // what they explain beyond a mere lack of fine detail along the streak
  double amplitude = 0;     // their depth against that of uniform motion, 1 = as deep
  double reach = 0;         // 0..1 share of the frequencies that stand clear of the noise
  double edges = 0;         // log likelihood of the edge widths with this streak less that without one
  int edge_directions = 0;  // that had edges
  double seen_length = 0, seen_degrees = 0;  // the best streak, also where it was not believed
};

// Lengths below are not told from texture, lengths above not from the window's own width.
inline constexpr double kShortestStreak = 2.6, kLongestStreak = 50;  // px

// detail: the edges of the same region. Blind to: motion that is not uniform (a wing that turns, a double
// jerk), a texture of parallel lines at equal distances, longer streaks than a third of the region, a region
// so defocused or so noisy that neither bar nor edge can show (confidence 0 then).
Streak find_streak(const Spectrum& spectrum, const Detail& detail, int orientation);

// The cheap first look: whether the edges leave room for a streak of some 3 px or more. False on sharp
// frames.
bool streak_possible(const Detail& detail);

}  // namespace burstsieve::measure
