#include "expected.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>

#include "optics.h"

namespace burstsieve::calibrate {
namespace {

struct Named {
  std::string_view id;
  measure::Tolerance within;
  std::array<double, 2> limits{measure::kNoLimit, measure::kNoLimit};  // those that are finite
};

// A relative tolerance of 1: no more than twice the truth is said. Clipped shares are read low where grey
// plumage is taken for white, which costs a warning, not a frame.
constexpr std::array kPromises{
    Named{"background_motion_deg", {4, 0}, {0, measure::kNoLimit}},
    Named{"background_motion_px", {1.5, .1}, {0, measure::kNoLimit}},
    Named{"blur_sigma_px", {.2, .15}},
    Named{"cut_by_edge", {.05, 0}, {0.03, measure::kNoLimit}},
    Named{"focus_elsewhere", {0, .3}, {1.5, measure::kNoLimit}},
    Named{"focus_elsewhere_side", {.5, 0}, {0, measure::kNoLimit}},
    Named{"headroom_ev", {.1, 0}, {.05, measure::kNoLimit}},
    Named{"headroom_ev_b", {.1, 0}, {.05, measure::kNoLimit}},
    Named{"headroom_ev_g", {.1, 0}, {.05, measure::kNoLimit}},
    Named{"headroom_ev_r", {.1, 0}, {.05, measure::kNoLimit}},
    Named{"motion_deg", {4, 0}, {0, measure::kNoLimit}},
    Named{"motion_px", {1.5, .1}, {0, measure::kNoLimit}},
    Named{"least_sharp_px", {.2, .15}},
    Named{"mtf50", {0, .15}},
    Named{"scene_contrast_ev", {.25, 0}},
    Named{"shadow_blocked", {.03, 0}, {0.03, measure::kNoLimit}},
    Named{"subject_size", {0, .15}},
    Named{"texture_blur_px", {0, .4}},
    Named{"white_clipped_b", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"white_clipped_g", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"white_clipped_r", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"subject_count", {.5, 0}},
    Named{"white_flat", {.15, 0}},
    Named{"white_gone", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"white_partly", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"white_recoverable", {.02, 1}, {.02, measure::kNoLimit}},
    Named{"white_share", {.1, 0}},
    Named{"white_texture", {.01, .3}},
};

// The engine does not count the pixel's aperture.
double without_aperture(double sigma_px) {
  return std::sqrt(std::max(.01, sigma_px * sigma_px - 1.0 / 12));
}

// A frame's truth in the engine's own words.
struct Truth {
  const generate::FrameSpec& spec;
  const generate::FrameTruth& frame;
  const SceneTruth& scene;

  bool subject_streaks() const {
    return spec.motion_px > 0 &&
           (spec.motion_of == generate::MotionOf::subject || spec.motion_of == generate::MotionOf::camera);
  }
  bool scene_streaks() const {
    return spec.motion_px > 0 &&
           (spec.motion_of == generate::MotionOf::pan || spec.motion_of == generate::MotionOf::camera);
  }
  // Edges along a streak keep their width: one number for all of them means nothing then.
  std::optional<double> blur_unstreaked() const {
    return subject_streaks() && spec.motion_px > 1.5 ? std::nullopt
                                                     : std::optional(without_aperture(frame.blur_sigma_px));
  }

  std::optional<double> least_sharp() const {
    auto out = blur_unstreaked();
    if (!out) return out;
    for (const auto& other : frame.others) out = std::max(*out, without_aperture(other.blur_sigma_px));
    return out;
  }

  std::optional<double> of(std::string_view id) const {
    if (id == "blur_sigma_px" || id == "texture_blur_px") return blur_unstreaked();
    if (id == "mtf50") {
      const auto b = blur_unstreaked();
      return b ? std::optional(.187391 / *b) : std::nullopt;
    }
    if (id == "motion_px") return subject_streaks() ? spec.motion_px : 0;
    if (id == "motion_deg") return subject_streaks() ? std::optional(spec.motion_deg) : std::nullopt;
    if (id == "background_motion_px") return scene_streaks() ? spec.motion_px : 0;
    if (id == "background_motion_deg") return scene_streaks() ? std::optional(spec.motion_deg) : std::nullopt;
    if (id == "least_sharp_px") return least_sharp();
    if (id == "subject_count") return 1.0 + static_cast<double>(frame.others.size());
    if (id == "cut_by_edge") return frame.cut_by_edge;
    if (id == "shadow_blocked") return scene.shadow_blocked;
    if (id == "scene_contrast_ev") return scene.scene_contrast_ev;
    if (!scene.white) return std::nullopt;
    if (id == "white_share") return scene.white_share;
    if (id == "white_texture") return scene.texture;
    if (id == "white_flat") return scene.flat;
    if (id == "white_recoverable") return scene.together[0];
    if (id == "white_partly") return scene.together[1];
    if (id == "white_gone") return scene.together[2];
    if (id == "white_clipped_r") return scene.clipped[0];
    if (id == "white_clipped_g") return scene.clipped[1];
    if (id == "white_clipped_b") return scene.clipped[2];
    if (id == "headroom_ev_r") return scene.headroom_ev[0];
    if (id == "headroom_ev_g") return scene.headroom_ev[1];
    if (id == "headroom_ev_b") return scene.headroom_ev[2];
    if (id == "headroom_ev") return *std::min_element(scene.headroom_ev.begin(), scene.headroom_ev.end());
    return std::nullopt;
  }
};

// Both are half turns.
double turn_between(double a, double b) {
  const double d = std::fmod(std::abs(a - b), 180.0);
  return std::min(d, 180 - d);
}

bool within(const Measure& m, double truth, const measure::Tolerance& t) {
  const bool angle = m.id.ends_with("_deg");
  const double off = angle ? turn_between(m.value, truth) : std::abs(m.value - truth);
  return off <= std::max(t.absolute, t.relative * std::abs(truth)) + 1e-12;
}

double larger_side(const Region& r, double aspect) {
  return std::max(r.w, r.h / aspect);
}

// Is the subject in focus, and if not, on which side is what is? Of the ratio only that is judged on which
// side of its split it lies: the tolerance has no part in it.
std::optional<bool> focus_right(const Measure& m, const Truth& t) {
  const bool on = t.spec.focus_on == generate::FocusOn::subject;
  if (m.id == "focus_elsewhere") {
    if (!t.spec.depth) return std::nullopt;
    return on == (m.value < promise_of(m.id).limits.front());
  }
  if (m.id == "focus_elsewhere_side") {
    if (!t.spec.depth) return std::nullopt;
    if (m.value == 0) return std::nullopt;  // nothing said
    return (m.value < 0 && t.spec.focus_on == generate::FocusOn::foreground) ||
           (m.value > 0 && t.spec.focus_on == generate::FocusOn::background);
  }
  return std::nullopt;
}

}  // namespace

Promise promise_of(std::string_view id) {
  const auto it =
      std::find_if(kPromises.begin(), kPromises.end(), [&](const Named& n) { return n.id == id; });
  if (it == kPromises.end()) return {};
  Promise out{it->within, {}};
  for (const double limit : it->limits)
    if (std::isfinite(limit)) out.limits.push_back(limit);
  return out;
}

Sample judged_value(const Measure& m, double truth) {
  return {m.id, m.basis == "raw mosaic", m.confidence, within(m, truth, promise_of(m.id).within), m.value,
          truth};
}

std::vector<Sample> judged(const FrameFacts& facts, const generate::FrameSpec& spec,
                           const generate::FrameTruth& truth, const SceneTruth& scene) {
  std::vector<Sample> out;
  const Truth t{spec, truth, scene};
  for (const Measure& m : facts.measures) {
    const bool sensor = m.basis == "raw mosaic";
    if (m.confidence <= 0) continue;
    if (const auto right = focus_right(m, t)) {
      out.push_back({m.id, sensor, m.confidence, *right, m.value, static_cast<double>(spec.focus_on)});
      continue;
    }
    const auto tolerance = promise_of(m.id).within;
    if (tolerance.absolute == 0 && tolerance.relative == 0) continue;
    std::optional<double> expected = t.of(m.id);
    if (m.id == "subject_size")
      expected = larger_side(truth.subject, static_cast<double>(facts.pixel_width) / facts.pixel_height);
    if (expected) out.push_back(judged_value(m, *expected));
  }
  return out;
}

}  // namespace burstsieve::calibrate
