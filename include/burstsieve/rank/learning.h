// Learning a photographer's weights from their choices.
//
// The Bradley-Terry model (Bradley and Terry, Biometrika 1952): of two frames that differ by d the first is
// preferred with probability 1 / (1 + exp(-w.d)). The weights are the most probable ones (MAP) under a
// Gaussian prior whose middle are the defaults, within the bounds of feature_specs(); Newton's method with
// the set of bounds that hold (projected Newton, Bertsekas 1982). How decidedly someone chooses (the scale of
// w) is theirs alone and says nothing of their taste: it is fitted first, and taken out again.
//
// What was learnt is used only when it is better at foretelling choices it has not seen: in five parts, each
// foretold from the other four, against the defaults at a scale of their own.
// Deterministic: the same choices in the same order give the same bits. Blind to: tastes that are no weighted
// sum (sharp wings for this species only), changes of taste over time.
#pragma once
#include <array>
#include <span>

#include "burstsieve/rank/choices.h"

namespace burstsieve::rank {

struct LearningOptions {
  // Standard deviation of the prior, in factors of two in blur for a feature's typical difference inside a
  // pose (FeatureSpec::spread), before the photographer's scale. Chosen by simulation (docs/preferences.md).
  double prior = .08;  // > 0
  // Ratings of theirs below which nothing learnt is used.
  int enough = 20;  // >= 1
  // Mean gain in log likelihood of a pose not learnt from, over its standard error, from which it is used.
  double sure = 2.5;  // >= 0
};

struct Learnt {
  Weights weights{};      // normalised()
  Weights uncertainty{};  // standard deviation of each, from the curvature at the top
  Weights base{};         // what the prior stood at: the defaults, or what was imported
  double scale = 1;       // how decidedly they choose: 1 unit of liking is odds of e to this power
  int overrides = 0;      // frames that they rated other than we did
  int agreements = 0;     // poses where our choice was let stand
  int choices = 0;        // pairs
  std::array<int, kFeatures> informed{};      // poses in which the feature differed enough to matter
  double gain = 0;                            // mean gain in log likelihood per pose not learnt from
  double gain_sure = 0;                       // the same over its standard error
  double agreed_base = 0, agreed_learnt = 0;  // share of choices not learnt from, foretold right, 0..1
  bool in_use = false;
};

// Groups without a choice count for nothing. `base`: normalised.
Learnt learn(std::span<const ChoiceGroup> groups, const Weights& base, const LearningOptions& options);

}  // namespace burstsieve::rank
