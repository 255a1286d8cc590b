#include "burstsieve/rank/preference.h"

#include <algorithm>
#include <cmath>

#include "burstsieve/rank/policy.h"
#include "whites.h"

namespace burstsieve::rank {
namespace {

// Weights of the measured features: the score as it has been since the first release (docs/verdicts.md). A
// twentieth of the whites lost costs what 15 % more blur does; an outline cut over a tenth likewise.
// Those of taste are common practice, no source: the head must show before anything else matters; a bird
// wants more room before it than behind it; raised wings before lowered ones. They are as large as needed to
// order frames that the measurements can't tell apart, and too small to be noticed elsewhere.
// Weights of 0 are matters of which we have no opinion of our own; choices may teach one.
// Spreads: quartiles of the differences inside the poses of generated seasons, rounded; those of head, room
// and wings are guesses. Bounds: a fault is never made a virtue, and nothing counts more than four times what
// is usual; a matter of taste never more than two factors of two in blur for twice its typical difference.
constexpr std::array<FeatureSpec, kFeatures> kSpecs{{
    {"blur", "log2 px", -1, .5, -4, 0, true, "blur", "more blur", "less blur"},
    {"streak", "log2", 0, .3, -3, 1, true, "blur that comes from motion", "more of the blur from motion",
     "less of the blur from motion"},
    {"whites_lost", "share", -4, .05, -32, 0, true, "lost whites", "more lost whites", "fewer lost whites"},
    {"whites_recoverable", "share", -1, .1, -10, 0, true, "whites clipped in one channel",
     "more whites clipped in one channel", "fewer whites clipped in one channel"},
    {"shadows_blocked", "share", 0, .05, -10, 10, true, "black shadows", "more black shadows",
     "fewer black shadows"},
    {"cut", "share", -2, .1, -10, 0, true, "a cut outline", "more of the outline cut",
     "less of the outline cut"},
    {"head_shown", "-1 to 1", .5, .7, -1.5, 3, false, "a head that shows", "the head shows",
     "the head hides"},
    {"room_ahead", "-1 to 1", .3, .2, -3, 5, false, "room in front of the bird",
     "more room in front of the bird", "less room in front of the bird"},
    {"wings_up", "-1 to 1", .2, .3, -3, 3, false, "raised wings", "wings higher", "wings lower"},
    {"size", "log2", 0, .1, -5, 5, false, "size of the bird in the frame", "the bird larger in the frame",
     "the bird smaller in the frame"},
    {"background_streak", "log2", 0, .7, -1.5, 1.5, false, "a background streaked by panning",
     "more streaked background", "a calmer background"},
}};

// Confidence from which a head's place tells where the animal looks.
constexpr double kHeadPlaced = .3;
// Cells of the outline below which its shape says nothing.
constexpr int kShapeCells = 24;
constexpr double kPanPx = 6;  // as PolicyOptions::motion_px: a streak that a viewer sees

// A share counts as far as it is believed; the rest of it is doubt, so that a doubtful number never makes one
// frame surely better than another.
FeatureValue believed(double share, double confidence, bool known) {
  return {share * confidence, share * (1 - confidence), known};
}

FeatureValue share_of(const FrameFacts& facts, const char* id) {
  const Measure* m = find(facts.measures, id);
  return m ? believed(m->value, m->confidence, true) : FeatureValue{};
}

void add_blur(const FrameFacts& facts, Features& out) {
  const Measure* blur = find(facts.measures, "blur_sigma_px");
  if (!blur) return;
  const double all = std::max(kSharpAsCanBe, effective_blur(facts));
  // 8 % at full confidence: the spread of repeated measurements in tests/measure.
  const double unsure = std::log2(1.08) / std::clamp(blur->confidence, .1, 1.0);
  out[kBlur] = {std::log2(all), unsure, true};
  if (find(facts.measures, "motion_px"))
    out[kStreak] = {std::log2(all / std::max(kSharpAsCanBe, blur->value)), unsure, true};
}

void add_whites(const FrameFacts& facts, Features& out) {
  const Measure* green = find(facts.measures, "white_clipped_g");
  const ClippedWhites whites = clipped_whites(facts);
  const double confidence = green ? green->confidence : 0;
  out[kWhitesLost] = believed(whites.lost, confidence, green != nullptr);
  out[kWhitesRecover] = believed(whites.recoverable, confidence, green != nullptr);
}

void add_head(const Subject& s, Features& out) {
  if (s.head_view == HeadView::unknown) return;
  const double sure = std::clamp(s.head_confidence, 0.0, 1.0);
  out[kHeadShown] = {s.head_view == HeadView::visible ? sure : -sure, 1 - sure, true};
  if (s.head_view != HeadView::visible || !s.head || sure < kHeadPlaced || s.box.empty()) return;
  // 1: the head is at the box's end, the animal looks that way in profile; 0: straight at us, or away.
  const double along = std::clamp((s.head->centre_x() - s.box.centre_x()) / (s.box.w / 2), -1.0, 1.0);
  const double right = std::clamp(1 - s.box.right(), 0.0, 1.0), left = std::clamp(s.box.x, 0.0, 1.0);
  // A head's place is good to a tenth of the box or so: half its way out counts in full.
  const double facing = std::clamp(2 * along, -1.0, 1.0);
  out[kRoomAhead] = {sure * facing * (right - left), (1 - sure) * std::abs(right - left), true};
}

// Wings up stand thin above the body: the mass hangs low in the box. Wrong for what stands on long legs.
void add_wings(const FrameFacts& facts, const Region& box, Features& out) {
  const CellMask& mask = facts.mask;
  if (mask.empty() || box.empty()) return;
  int cells = 0, top = mask.rows, bottom = -1;
  double sum = 0;
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (mask.at(x, y)) {
        ++cells;
        sum += y + .5;
        top = std::min(top, y);
        bottom = std::max(bottom, y);
      }
  const double height = bottom - top + 1;
  if (cells < kShapeCells || height < 4) return;
  const double low = (sum / cells - (top + bottom + 1) / 2.0) / (height / 2);
  out[kWingsUp] = {std::clamp(2 * low, -1.0, 1.0), 2 / height, true};
}

}  // namespace

std::span<const FeatureSpec, kFeatures> feature_specs() {
  return kSpecs;
}

std::optional<Feature> feature_of(std::string_view id) {
  for (std::size_t i = 0; i < kFeatures; ++i)
    if (id == kSpecs[i].id) return static_cast<Feature>(i);
  return std::nullopt;
}

Features features_of(const FrameFacts& facts) {
  Features out;
  add_blur(facts, out);
  add_whites(facts, out);
  out[kShadowsBlocked] = share_of(facts, "shadow_blocked");
  out[kCut] = share_of(facts, "cut_by_edge");
  if (const Measure* size = find(facts.measures, "subject_size"); size && size->value > 0)
    out[kSize] = {std::log2(size->value), .05, true};  // boxes wander by a few percent (group/pose.cpp)
  if (const Measure* pan = find(facts.measures, "background_motion_px"))
    out[kBackgroundStreak] = {std::log2(1 + pan->confidence * pan->value / kPanPx),
                              std::log2(1 + (1 - pan->confidence) * pan->value / kPanPx), true};
  if (!facts.subjects.empty()) {
    add_head(facts.subjects.front(), out);
    add_wings(facts, facts.subjects.front().box, out);
  }
  return out;
}

Weights default_weights() {
  Weights out{};
  for (std::size_t i = 0; i < kFeatures; ++i) out[i] = kSpecs[i].weight;
  return out;
}

Liking measured_liking(const Features& features, const Weights& weights) {
  Liking out;
  for (std::size_t i = 0; i < kFeatures; ++i) {
    if (!kSpecs[i].measured) continue;
    out.value += weights[i] * features[i].value;
    out.uncertainty += std::abs(weights[i]) * features[i].uncertainty;
  }
  return out;
}

double taste_of(const Features& features, const Weights& weights) {
  double out = 0;
  for (std::size_t i = 0; i < kFeatures; ++i)
    if (!kSpecs[i].measured) out += weights[i] * features[i].value;
  return out;
}

double liking_of(const Features& features, const Weights& weights) {
  return measured_liking(features, weights).value + taste_of(features, weights);
}

Weights normalised(const Weights& weights) {
  double have = 0, want = 0;
  for (std::size_t i = 0; i < kFeatures; ++i) {
    have += std::pow(weights[i] * kSpecs[i].spread, 2);
    want += std::pow(kSpecs[i].weight * kSpecs[i].spread, 2);
  }
  if (!(have > 0) || !std::isfinite(have)) return default_weights();
  Weights out{};
  for (std::size_t i = 0; i < kFeatures; ++i)
    out[i] = std::clamp(weights[i] * std::sqrt(want / have), kSpecs[i].least, kSpecs[i].most);
  return out;
}

}  // namespace burstsieve::rank
