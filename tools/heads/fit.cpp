#include "fit.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "head_search.h"
#include "learn.h"
#include "random.h"

namespace burstsieve::heads {
namespace {

using subject::HeadLook;
using subject::HeadScorer;

// Three looks at the same samples: places at random, then twice those that fooled the scorer.
constexpr int kRounds = 3;
constexpr std::size_t kHeads = 12, kRandom = 110, kFooled = 35;

bool usable(const Sample& s, const HeadLook& look) {
  return look.usable() && s.shown != Shown::no && cv::Rect2d(0, 0, s.bgr.cols, s.bgr.rows).contains(s.head);
}

struct Choice {
  std::vector<HeadLook::Place> heads, others;
};

Choice choose(const Sample& s, const HeadLook& look) {
  Choice out;
  std::vector<std::pair<double, HeadLook::Place>> near;
  for (const auto& p : look.places()) {
    const cv::Point2d at = look.in_crop(p);
    const double d = std::hypot(at.x - s.head.x, at.y - s.head.y) / s.radius,
                 size = std::abs(std::log(look.radius_in_crop(p) / s.radius));
    if (s.shown == Shown::hidden || d > 1.1)
      out.others.push_back(p);
    else if (d < .5 && size < .3)
      near.push_back({d + size, p});
  }
  std::stable_sort(near.begin(), near.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  for (std::size_t i = 0; i < std::min(kHeads, near.size()); ++i) out.heads.push_back(near[i].second);
  return out;
}

HeadScorer fit_places(const std::vector<Sample>& samples, const std::vector<HeadLook>& looks,
                      const std::vector<std::size_t>& which, const FitOptions& options) {
  generate::Random random(options.seed);
  std::vector<Example> examples;
  HeadScorer scorer;
  for (int round = 0; round < kRounds; ++round) {
    for (const std::size_t i : which) {
      const Sample& s = samples[i];
      if (!usable(s, looks[i])) continue;
      const float weight = s.burst < 0 ? options.real : s.faulty ? .5f : 1.0f;
      const Choice c = choose(s, looks[i]);
      const auto add = [&](const HeadLook::Place& p, bool head) {
        Example& e = examples.emplace_back();
        looks[i].features(p, e.x);
        e.head = head;
        e.weight = weight;
      };
      if (round == 0) {
        for (const auto& p : c.heads) add(p, true);
        for (std::size_t k = 0; k < kRandom && !c.others.empty(); ++k)
          add(c.others[static_cast<std::size_t>(random.below(static_cast<int>(c.others.size())))], false);
        continue;
      }
      std::vector<std::pair<float, std::size_t>> fooled;
      subject::LookFeatures f;
      for (std::size_t k = 0; k < c.others.size(); ++k) {
        looks[i].features(c.others[k], f);
        fooled.push_back({-scorer.odds(f), k});
      }
      std::sort(fooled.begin(), fooled.end());
      for (std::size_t k = 0; k < std::min(kFooled, fooled.size()); ++k)
        add(c.others[fooled[k].second], false);
    }
    scorer = learn(examples, options.units, options.epochs, options.decay, options.seed);
  }
  return scorer;
}

bool right(const Sample& s, const subject::HeadPlace& place) {
  const double x = (place.head.centre_x() - s.crop.x) / s.crop.w * s.bgr.cols,
               y = (place.head.centre_y() - s.crop.y) / s.crop.h * s.bgr.rows;
  return s.shown == Shown::visible && std::hypot(x - s.head.x, y - s.head.y) <= s.radius;
}

}  // namespace

subject::HeadInput input_of(const Sample& s, bool true_mask) {
  return {{s.bgr, s.crop}, true_mask ? s.mask_true : s.mask, s.box, std::nullopt};
}

subject::HeadWeights fit(const std::vector<Sample>& samples, const FitOptions& options) {
  using namespace subject;
  generate::Random random(options.seed);
  std::vector<char> own(samples.size());  // which mask
  std::vector<HeadLook> looks;
  std::array<std::vector<std::size_t>, 2> half;
  std::vector<std::size_t> all;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    own[i] = random.chance(.5);
    looks.emplace_back(samples[i].bgr, own[i] ? samples[i].mask_true : samples[i].mask);
    half[static_cast<std::size_t>(std::abs(samples[i].burst) / 2 % 2)].push_back(i);
    all.push_back(i);
  }
  HeadWeights out;
  std::vector<HeadSearch> found(samples.size());
  for (const std::size_t h : {0u, 1u}) {
    const HeadScorer scorer = fit_places(samples, looks, half[h], options);
    for (const std::size_t i : half[1 - h]) found[i] = search_head(input_of(samples[i], own[i]), scorer);
  }
  out.scorer = fit_places(samples, looks, all, options);

  const auto weight_of = [&](const Sample& s) { return s.burst < 0 ? .5 * options.real : 1.0; };
  double hidden = 0, shown = 0;
  for (const Sample& s : samples) {
    if (s.shown == Shown::hidden) hidden += weight_of(s);
    if (s.shown == Shown::visible) shown += weight_of(s);
  }
  const double rare = options.hidden_share / (1 - options.hidden_share) * shown / std::max(hidden, 1.0);
  std::vector<Observation> visible_lines, hidden_lines;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const Sample& s = samples[i];
    if (!found[i].looked) continue;
    const std::vector<double> x(found[i].facts.begin(), found[i].facts.end());
    const double w = weight_of(s) * (s.shown == Shown::hidden ? rare : 1);
    visible_lines.push_back({x, right(s, found[i].places.front()), w});
    if (s.shown != Shown::no) hidden_lines.push_back({x, s.shown == Shown::hidden, w});
  }
  const auto set = [](auto& to, const std::vector<double>& from) {
    std::copy(from.begin(), from.end(), to.begin());
  };
  set(out.visible, logistic(visible_lines));
  set(out.hidden, logistic(hidden_lines));

  std::map<std::pair<int, int>, std::size_t> by_frame;
  for (std::size_t i = 0; i < samples.size(); ++i)
    if (samples[i].burst >= 0) by_frame[{samples[i].burst, samples[i].frame}] = i;
  std::map<int, std::vector<std::size_t>> bursts;
  for (const auto& [key, i] : by_frame) bursts[key.first].push_back(i);
  visible_lines.clear(), hidden_lines.clear();
  for (const auto& [number, frames] : bursts) {
    std::vector<HeadEvidence> evidence;
    for (const std::size_t i : frames)
      evidence.push_back({found[i].looked, samples[i].box, found[i].places,
                          log_odds(found[i].facts, out.visible), log_odds(found[i].facts, out.hidden)});
    for (std::size_t k = 0; k < frames.size(); ++k) {
      const FrameInBurst b = in_burst(evidence, k);
      const Sample& s = samples[frames[k]];
      if (!b.known) continue;
      const double w = s.shown == Shown::hidden ? rare : 1;
      visible_lines.push_back(
          {{b.visible.begin(), b.visible.end()}, right(s, evidence[k].places.front()), w});
      if (s.shown != Shown::no)
        hidden_lines.push_back({{b.hidden.begin(), b.hidden.end()}, s.shown == Shown::hidden, w});
    }
  }
  set(out.visible_in_burst, logistic(visible_lines));
  set(out.hidden_in_burst, logistic(hidden_lines));
  return out;
}

}  // namespace burstsieve::heads
