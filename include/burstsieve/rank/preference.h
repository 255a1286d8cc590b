// What makes one frame of a pose better than another, as a weighted sum of measured features.
//
// One unit of the sum is a factor of two in blur. Two kinds of features: those that measure a fault or the
// lack of one make up the score that verdicts rest on; those of taste only break ties, until a photographer's
// choices have taught otherwise (rank/learning.h). Nothing here may reject a frame: rank/policy.h.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string_view>

#include "burstsieve/model/measure.h"

namespace burstsieve::rank {

// Blur below which frames count as equally sharp, full-size px. Measured on rendered frames of .65-.75 px
// true blur the values spread from .3 to .75 with the texture that happens to lie under the edges:
// differences down there are demosaicking, sharpening and texture, not focus.
inline constexpr double kSharpAsCanBe = .75;

enum Feature : std::size_t {
  kBlur,              // log2 of the effective blur in px, from kSharpAsCanBe up
  kStreak,            // how much of that the streak added: log2 of effective over edge blur
  kWhitesLost,        // 0..1 of the white plumage, two channels clipped or all; as far as believed
  kWhitesRecover,     // 0..1 of the white plumage, one channel clipped
  kShadowsBlocked,    // 0..1 of the background, black when the whites are held
  kCut,               // 0..1 of the outline on the frame's edge
  kHeadShown,         // -1 surely hidden .. 0 unknown .. 1 surely visible
  kRoomAhead,         // -1..1: share of the frame's width before the subject less that behind it
  kWingsUp,           // -1..1: how far the mass of the animal hangs below the middle of its box
  kSize,              // log2 of the subject's longer side against the frame's width
  kBackgroundStreak,  // log2(1 + streak of the background / 6 px): how much a pan shows
  kFeatures
};

// What is known of one feature, and where its numbers come from.
struct FeatureSpec {
  const char* id;    // stable: stored, exported
  const char* unit;  // of the value
  double weight;     // by default; > 0: more of it is better
  double spread;  // difference that is typical inside a pose; what a weight is measured against in learning
  double least, most;  // bounds of a learnt weight
  bool measured;       // true: counts in the score; false: breaks ties only, as long as nothing was learnt
  const char* words;   // for people, what there is more of: "lost whites"
  const char* more;    // of a frame that has more of it than another: "more lost whites"
  const char* less;    // and of one that has less
};
std::span<const FeatureSpec, kFeatures> feature_specs();
std::optional<Feature> feature_of(std::string_view id);

struct FeatureValue {
  double value = 0;        // 0 where unknown: no information, no preference
  double uncertainty = 0;  // in the feature's unit, standard deviation or what is not believed of it
  bool known = false;
};
using Features = std::array<FeatureValue, kFeatures>;
using Weights = std::array<double, kFeatures>;

// Of the frame's first subject. Blind to: where on the animal the blur was measured, which side of the head
// is turned to the camera, eyes, other animals, colour, expression.
Features features_of(const FrameFacts& facts);

Weights default_weights();

struct Liking {
  double value = 0;
  double uncertainty = 0;
};
// Sum over the measured features (the score of policy.h), over those of taste, over all.
Liking measured_liking(const Features& features, const Weights& weights);
double taste_of(const Features& features, const Weights& weights);
double liking_of(const Features& features, const Weights& weights);

// `weights` scaled so that a typical difference weighs as much as by default, each within its bounds: the
// order they give does not change by scaling, and numbers of two photographers can be compared.
Weights normalised(const Weights& weights);

}  // namespace burstsieve::rank
