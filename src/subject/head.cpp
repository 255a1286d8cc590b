#include "burstsieve/subject/head.h"

#include <algorithm>
#include <cmath>

#include "head_look.h"
#include "head_search.h"
#include "head_weights.h"

namespace burstsieve::subject {
namespace {

constexpr std::size_t kMostPlaces = 6;
// Centres closer than this, in radii of the larger, are one place.
constexpr double kPlacesApart = 1.3;
// Added to the log odds of places in the focus area: cameras that know an animal put it on the head, others
// where the photographer pointed. Set by hand, small enough to be overruled by a clear head elsewhere.
constexpr float kFocusOdds = 1.0f;

struct ScoredPlace {
  HeadLook::Place place;
  cv::Point2d at;  // px of the crop
  double radius = 0;
  float odds = 0;
};

double probability(double log_odds) {
  return 1 / (1 + std::exp(-std::clamp(log_odds, -30.0, 30.0)));
}

// The focus area in px of the crop; empty where it says nothing about the head.
cv::Rect2d focus_in_crop(const HeadInput& in) {
  if (!in.af || in.af->area() > in.box.area() / 3 || share_inside(*in.af, in.box) < .5) return {};
  const double kx = in.crop.bgr.cols / in.crop.where.w, ky = in.crop.bgr.rows / in.crop.where.h;
  return {(in.af->x - in.crop.where.x) * kx, (in.af->y - in.crop.where.y) * ky, in.af->w * kx, in.af->h * ky};
}

std::vector<ScoredPlace> scored(const HeadInput& in, const HeadLook& look, const HeadScorer& scorer) {
  std::vector<ScoredPlace> out;
  const cv::Rect2d focus = focus_in_crop(in);
  LookFeatures f;
  for (const auto& place : look.places()) {
    look.features(place, f);
    ScoredPlace s{place, look.in_crop(place), look.radius_in_crop(place), scorer.odds(f)};
    if (!focus.empty() && focus.contains(s.at)) s.odds += kFocusOdds;
    out.push_back(s);
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const ScoredPlace& a, const ScoredPlace& b) { return a.odds > b.odds; });
  return out;
}

// The mean of the neighbours that look nearly as good: finer than the grid.
ScoredPlace settled(const ScoredPlace& best, const std::vector<ScoredPlace>& all) {
  double sum = 0, x = 0, y = 0, r = 0;
  for (const ScoredPlace& s : all) {
    if (s.odds < best.odds - 2) break;
    if (std::hypot(s.at.x - best.at.x, s.at.y - best.at.y) > .7 * best.radius) continue;
    const double w = std::exp(static_cast<double>(s.odds - best.odds));
    sum += w, x += w * s.at.x, y += w * s.at.y, r += w * std::log(s.radius);
  }
  ScoredPlace out = best;
  out.at = {x / sum, y / sum};
  out.radius = std::exp(r / sum);
  return out;
}

HeadPlace placed(const HeadInput& in, const HeadLook& look, const ScoredPlace& s) {
  const double kx = in.crop.where.w / in.crop.bgr.cols, ky = in.crop.where.h / in.crop.bgr.rows;
  const cv::Point2d eye = look.eye_place(s.place);
  return {clamped({in.crop.where.x + (s.at.x - s.radius) * kx, in.crop.where.y + (s.at.y - s.radius) * ky,
                   2 * s.radius * kx, 2 * s.radius * ky}),
          static_cast<double>(s.odds), look.eye_at(s.place), in.crop.where.x + eye.x * kx,
          in.crop.where.y + eye.y * ky};
}

}  // namespace

HeadSearch search_head(const HeadInput& in, const HeadScorer& scorer) {
  HeadSearch out;
  if (in.crop.bgr.empty() || in.crop.where.empty()) return out;
  const HeadLook look(in.crop.bgr, in.mask);
  if (!look.usable()) return out;
  const auto all = scored(in, look, scorer);
  if (all.empty()) return out;
  std::vector<ScoredPlace> kept;
  for (const ScoredPlace& s : all) {
    if (kept.size() == kMostPlaces) break;
    if (std::none_of(kept.begin(), kept.end(), [&](const ScoredPlace& k) {
          return std::hypot(s.at.x - k.at.x, s.at.y - k.at.y) < kPlacesApart * std::max(s.radius, k.radius);
        }))
      kept.push_back(s);
  }
  const ScoredPlace best = kept.front();
  const double far =
      std::hypot(best.at.x * look.enlarged() - look.core().x, best.at.y * look.enlarged() - look.core().y);
  const double first = best.odds, second = kept.size() > 1 ? static_cast<double>(kept[1].odds) : first - 6;
  for (ScoredPlace& s : kept) out.places.push_back(placed(in, look, settled(s, all)));
  double rest = 0;
  for (std::size_t i = 1; i < kept.size(); ++i) rest += probability(kept[i].odds);
  out.looked = true;
  out.facts = {first,
               std::clamp(first, -4.0, 2.0),
               std::min(6.0, first - second),
               rest,
               std::log(1 + out.places.front().eye),
               std::log(std::max(look.contrast(), .01)),
               std::log(std::max(look.detail(), .01)),
               look.aligned(),
               std::log(best.radius * look.enlarged() / look.root_area()),
               std::log(look.root_area() / look.enlarged()),
               far / look.root_area()};
  return out;
}

HeadFinding find_head(const HeadInput& input) {
  HeadFinding out;
  out.evidence.box = input.box;
  const HeadWeights& weights = head_weights();
  HeadSearch found = search_head(input, weights.scorer);
  if (!found.looked) {
    out.why = "too small to look for a head";
    return out;
  }
  HeadEvidence& e = out.evidence;
  e.looked = true;
  e.places = std::move(found.places);
  e.visible = log_odds(found.facts, weights.visible);
  e.hidden = log_odds(found.facts, weights.hidden);
  const double visible = probability(e.visible), hidden = probability(e.hidden);
  if (hidden >= kHeadHidden && hidden > visible) {
    out.view = HeadView::hidden;
    out.confidence = hidden;
    out.why = "nothing on the animal looks like a head, though it is sharp enough to show one";
  } else if (visible >= kHeadVisible) {
    out.view = HeadView::visible;
    out.head = e.places.front().head;
    out.confidence = visible;
    out.why = e.places.front().eye >= 1 ? "a head, with an eye" : "a head, by its place and outline";
  } else {
    out.confidence = std::max(visible, hidden);
    out.why = "no place stands out as a head";
  }
  return out;
}

std::vector<HeadJudgement> agree_on_heads(const std::vector<HeadEvidence>& all) {
  const HeadWeights& weights = head_weights();
  std::vector<HeadJudgement> out(all.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!all[i].looked) continue;
    const FrameInBurst b = in_burst(all, i);
    const double alone = probability(all[i].visible);
    const double visible = b.known ? probability(log_odds(b.visible, weights.visible_in_burst)) : alone;
    const double hidden = probability(b.known ? log_odds(b.hidden, weights.hidden_in_burst) : all[i].hidden);
    const bool was_hidden = probability(all[i].hidden) >= kHeadHidden && probability(all[i].hidden) > alone;
    if (hidden >= kHeadHidden && hidden > visible && (was_hidden || alone < kHeadVisible))
      out[i] = {HeadView::hidden, hidden};
    else if (!was_hidden && alone >= kHeadVisible && visible >= .5)
      out[i] = {HeadView::visible, visible};  // sharpness was read from it
    else
      out[i] = {HeadView::unknown, std::max(visible, hidden)};
  }
  return out;
}

}  // namespace burstsieve::subject
