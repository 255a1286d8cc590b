// How far a counted share can be trusted.
//
// Frames of one burst are alike: the same bird, the same hand, a tenth of a second apart. Twenty shaken
// frames of one burst are one observation rather than twenty. So the number of frames is divided by the
// design effect 1 + (m - 1) r before the interval is taken (L. Kish, Survey Sampling, 1965, chapter 5; from
// memory), r being how alike frames of one burst are beyond what their group has in common, estimated from
// the outing itself.
#pragma once
#include <cstddef>
#include <vector>

namespace burstsieve::report {

struct Interval {
  double low = 0, high = 1;  // 0..1
};

inline constexpr double kZ95 = 1.959964;  // normal quantile of .975

// Score interval of a share of `lost` in `asked`: E. B. Wilson, Probable inference, the law of succession,
// and statistical inference, J. Am. Stat. Assoc. 22 (1927). Both may be fractions (effective numbers); 0..1
// when asked is not positive.
Interval wilson(double lost, double asked, double z = kZ95);

// One burst's part of a group of frames.
struct BurstPart {
  double asked = 0, lost = 0;  // frames; asked > 0
};
using GroupParts = std::vector<BurstPart>;

// Intraclass correlation of frames of one burst, 0..1, by analysis of variance of bursts within groups. 1
// where it can't be told: with no group of two bursts, or when every frame of each group came out alike.
double burst_likeness(const std::vector<GroupParts>& groups);

// The Wilson interval of a group, its frames counted as `likeness` lets them count.
Interval burst_interval(const GroupParts& group, double likeness);

// A normal distribution of which everything below 0 is seen as 0: mean and standard deviation by maximum
// likelihood (J. Tobin, Econometrica 26, 1958; here by expectation maximisation). The deviation is at least
// .05. Needs two values above 0 at least; else known is false.
struct CensoredNormal {
  bool known = false;
  double mean = 0, sd = 0;
};
CensoredNormal censored_normal(const std::vector<double>& above, std::size_t censored);

double normal_share_below(double z);   // the standard normal distribution function
double normal_quantile(double share);  // its inverse; share in (0,1)

}  // namespace burstsieve::report
