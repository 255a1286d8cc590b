// Invented pose groups whose features are spread as in a season, and photographers who choose among them.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <optional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "burstsieve/model/measure.h"
#include "burstsieve/rank/choices.h"
#include "burstsieve/rank/learning.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::test {

// Reproducible on every machine, which the distributions of <random> are not.
class TasteDice {
 public:
  explicit TasteDice(std::uint64_t seed) : rng_(seed) {}
  double uniform() { return (static_cast<double>(rng_() >> 11) + .5) / 9007199254740992.0; }
  double normal() { return std::sqrt(-2 * std::log(uniform())) * std::cos(6.283185307179586 * uniform()); }
  // Gumbel: the largest of liking + gumbel is chosen with Bradley-Terry's (Luce's) probabilities.
  double gumbel() { return -std::log(-std::log(uniform())); }
  bool chance(double p) { return uniform() < p; }

 private:
  std::mt19937_64 rng_;
};

struct SeasonPose {
  std::vector<FrameFacts> measured;
  std::vector<rank::Features> truth;  // what the photographer sees: without the errors of measuring
};

namespace season_detail {

inline FrameFacts facts_of(double blur, double streak, double lost, double one, double shadows, double cut,
                           double size, double pan) {
  FrameFacts f;
  f.decoded = true;
  f.pixel_width = 6000, f.pixel_height = 4000;
  const auto add = [&](const char* id, double v, double confidence) {
    f.measures.push_back({id, v, "", confidence, "raw mosaic"});
  };
  add("blur_sigma_px", blur, .9);
  add("motion_px", streak, .8);
  add("white_clipped_r", lost, .9), add("white_clipped_g", lost, .9), add("white_clipped_b", lost, .9);
  add("white_gone", lost, .9), add("white_recoverable", one, .9);
  add("shadow_blocked", shadows, .7);
  add("cut_by_edge", cut, .8);
  add("subject_size", size, .8);
  add("background_motion_px", pan, .7);
  return f;
}

// An outline whose mass hangs low (towards > 0) or high in its box.
inline CellMask outline(double towards) {
  CellMask m{60, 12, std::vector<std::uint8_t>(60 * 12, 0)};
  for (int row = 0; row < 10; ++row) {
    const int wide = static_cast<int>(std::lround(24 + 6 * towards * (row - 4.5)));
    for (int x = 0; x < std::min(60, std::max(1, wide)); ++x)
      m.cells[static_cast<std::size_t>((row + 1) * 60 + x)] = 1;
  }
  return m;
}

}  // namespace season_detail

// Two to eight frames of one pose, none ruined: what is left to choose among after the rejects. Rates as on
// the generated seasons of tools/generate, as far as they are known; those of head, room and wings are
// guesses.
inline SeasonPose season_pose(TasteDice& dice) {
  SeasonPose out;
  const int frames = 2 + static_cast<int>(7 * dice.uniform());
  const double blur = .8 * std::exp2(.6 * std::abs(dice.normal()));
  const bool white = dice.chance(.5), moving = dice.chance(.3), edge = dice.chance(.25),
             pans = dice.chance(.3);
  const double exposure = dice.normal(), width = .1 + .3 * dice.uniform(), box_x = .6 * dice.uniform();
  const double shadows = .1 * dice.uniform(), facing = dice.chance(.5) ? 1 : -1;
  for (int i = 0; i < frames; ++i) {
    const double sigma = blur * std::exp2(.35 * dice.normal());
    const double streak = moving && dice.chance(.5) ? 3 + 3 * dice.uniform() : 0;
    const double over = exposure + .5 * dice.normal();
    const double lost = white && over > .8 ? std::min(.3, .06 * (over - .8) + .02 * dice.uniform()) : 0;
    const double one = white && over > 0 ? std::min(.5, .12 * over) : 0;
    const double cut = edge && dice.chance(.5) ? .12 * dice.uniform() : 0;
    const double size = width * std::exp2(.1 * dice.normal());
    const double x = std::min(.95 - size, std::max(.0, box_x + .06 * dice.normal()));
    FrameFacts seen =
        season_detail::facts_of(sigma, streak, lost, one, std::max(0.0, shadows + .04 * dice.normal()), cut,
                                size, pans ? 30 * dice.uniform() : 0);
    Subject s;
    s.box = {x, .3, size, .3};
    s.head_view = dice.chance(.7)   ? HeadView::visible
                  : dice.chance(.6) ? HeadView::hidden
                                    : HeadView::unknown;
    // A head that is more likely hidden than not is a fault already.
    s.head_confidence =
        s.head_view == HeadView::hidden ? .25 + .24 * dice.uniform() : .6 + .35 * dice.uniform();
    const double turned = facing * (.3 + .2 * dice.uniform());
    if (s.head_view == HeadView::visible)
      s.head = Region{s.box.centre_x() + turned * size - .02, .32, .04, .05};
    seen.subjects = {s};
    seen.mask = season_detail::outline(std::min(.8, std::max(-.8, .4 * dice.normal())));
    out.truth.push_back(rank::features_of(seen));
    // What we make of it: 6 % error in blur; the rest is as good as its confidence says.
    seen.measures[0].value *= std::exp(.06 * dice.normal());
    out.measured.push_back(seen);
  }
  return out;
}

// Who chooses by these weights, `decided` times (Luce's choice axiom; 1 unit is a factor of two in blur).
struct Photographer {
  const char* name;
  rank::Weights weights;
  double decided;
};

inline rank::Weights taste(std::initializer_list<std::pair<rank::Feature, double>> changes) {
  rank::Weights out = rank::default_weights();
  for (const auto& [feature, weight] : changes) out[feature] = weight;
  return out;
}

// How much each frame is liked at this moment, slips included.
inline std::vector<double> liked_now(const Photographer& who, const SeasonPose& pose, TasteDice& dice) {
  std::vector<double> out;
  for (const rank::Features& f : pose.truth)
    out.push_back(rank::liking_of(f, who.weights) + dice.gumbel() / who.decided);
  return out;
}

inline std::size_t top_of(const std::vector<double>& liked) {
  return static_cast<std::size_t>(std::max_element(liked.begin(), liked.end()) - liked.begin());
}

inline std::vector<FrameVerdict> verdicts_of(const SeasonPose& pose,
                                             const std::optional<rank::Weights>& learnt) {
  rank::PolicyOptions options;
  options.learnt = learnt;
  std::vector<rank::Contender> all;
  for (const FrameFacts& f : pose.measured) all.push_back({"F" + std::to_string(all.size()), &f, 1});
  return rank::judge(all, options);
}

// Goes through a season with our verdicts and changes what they disagree with, until so many frames are
// changed.
inline std::vector<rank::ChoiceGroup> season_of_choices(const Photographer& who, int overrides,
                                                        TasteDice& dice) {
  std::vector<rank::ChoiceGroup> out;
  for (int made = 0; made < overrides;) {
    const SeasonPose pose = season_pose(dice);
    const auto ours = verdicts_of(pose, std::nullopt);
    const std::size_t top = top_of(liked_now(who, pose, dice));
    std::vector<rank::Considered> seen;
    for (std::size_t i = 0; i < ours.size(); ++i)
      seen.push_back({rank::features_of(pose.measured[i]), std::nullopt, ours[i].rating});
    if (ours[top].verdict != Verdict::keep) {
      seen[top].human = 5, ++made;
      for (std::size_t i = 0; i < ours.size(); ++i)
        if (ours[i].verdict == Verdict::keep && dice.chance(.5) && made < overrides)
          seen[i].human = -1, ++made;
    }
    out.push_back(rank::choices_of(seen));
  }
  return out;
}

// Shares of held-out poses, and of pairs inside them, where we and the photographer agree.
struct Agreement {
  double top = 0, pairs = 0;
};
inline Agreement agreement(const Photographer& who, const std::optional<rank::Weights>& learnt,
                           std::uint64_t seed, int poses) {
  TasteDice dice(seed);
  double tops = 0, pairs = 0, right = 0;
  for (int n = 0; n < poses; ++n) {
    const SeasonPose pose = season_pose(dice);
    const auto liked = liked_now(who, pose, dice);
    const auto ours = verdicts_of(pose, learnt);
    tops += ours[top_of(liked)].place == 1;
    for (std::size_t a = 0; a < liked.size(); ++a)
      for (std::size_t b = 0; b < a; ++b) {
        ++pairs;
        right += (liked[a] > liked[b]) == (ours[a].place < ours[b].place);
      }
  }
  return {tops / poses, right / pairs};
}

}  // namespace burstsieve::test
