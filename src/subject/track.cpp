#include "burstsieve/subject/track.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "background_shift.h"
#include "burstsieve/subject/energy_map.h"

namespace burstsieve::subject {
namespace {

constexpr int kLeastPatch = 5;  // glance pixels; below, every speck correlates
constexpr double kReach = .6;   // of the patch's longer side: how far a panned bird slips between two frames
constexpr int kLeastReach = 6;  // glance pixels
constexpr double kPatchSide = 32;  // pixels of the followed picture
constexpr double kCore = .5;       // of the box's sides: wings reach out of it, the body fills it
constexpr double kStable = .5;     // of stable_box(); below, the detail runs into the background
constexpr double kLeastSize = .4;  // of the earlier box's area: a wing beat changes it by half
// From .8 on the box overlapped the truth by half in 97 %, from .85 on in all of 265 steps of generated
// seasons; at .7 in 80 %, at .6 in 68 %.
constexpr double kLost = .6;
constexpr double kCoreTrusted = .25;  // a core followed with .7; the detail around it must agree as well
constexpr double kApart = .03;        // to the best place elsewhere

struct Found {
  cv::Point2d shift;  // of the patch's corner
  double score = -1, rival = -1;
};

cv::Rect pixels_of(const Region& box, cv::Size size) {
  const int x0 = static_cast<int>(std::lround(box.x * size.width));
  const int y0 = static_cast<int>(std::lround(box.y * size.height));
  const int x1 = static_cast<int>(std::lround(box.right() * size.width));
  const int y1 = static_cast<int>(std::lround(box.bottom() * size.height));
  return cv::Rect(x0, y0, x1 - x0, y1 - y0) & cv::Rect({}, size);
}

// Offset of a parabola's top through three values, -.5 to .5.
double top_of(float left, float middle, float right) {
  const float bend = left - 2 * middle + right;
  return bend < 0 ? std::clamp<double>(.5F * (left - right) / bend, -.5, .5) : 0;
}

// The highest place of `scores`, and the highest one at least half a patch from it.
Found peak_of(const cv::Mat& scores, cv::Size patch) {
  Found out;
  cv::Point at;
  cv::minMaxLoc(scores, nullptr, &out.score, nullptr, &at);
  const auto v = [&](int x, int y) { return scores.at<float>(y, x); };
  out.shift = at;
  if (at.x > 0 && at.x + 1 < scores.cols)
    out.shift.x += top_of(v(at.x - 1, at.y), v(at.x, at.y), v(at.x + 1, at.y));
  if (at.y > 0 && at.y + 1 < scores.rows)
    out.shift.y += top_of(v(at.x, at.y - 1), v(at.x, at.y), v(at.x, at.y + 1));
  cv::Mat rest = scores.clone();
  const cv::Rect near(at.x - patch.width / 2, at.y - patch.height / 2, patch.width + 1, patch.height + 1);
  rest(near & cv::Rect({}, rest.size())).setTo(-1);
  cv::minMaxLoc(rest, nullptr, &out.rival);
  return out;
}

// Large patches are followed in a smaller picture: correlation costs the product of both areas.
cv::Mat smaller(const cv::Mat& grey, double scale) {
  if (scale >= 1) return grey;
  cv::Mat out;
  cv::resize(grey, out, {}, scale, scale, cv::INTER_AREA);
  return out;
}

Tracked followed_patch(const cv::Mat& before, const Region& box, const cv::Mat& now, cv::Point2d shift) {
  const cv::Size size = now.size();
  const cv::Rect old = pixels_of(box, size);
  if (std::min(old.width, old.height) < kLeastPatch) return {};
  const cv::Mat patch = before(old);
  const int reach = std::max(kLeastReach, static_cast<int>(kReach * std::max(old.width, old.height)));
  // One window that holds both expectations, widened beyond the frame: an animal may be leaving it.
  const int x0 = old.x - reach + static_cast<int>(std::floor(std::min(0.0, shift.x)));
  const int y0 = old.y - reach + static_cast<int>(std::floor(std::min(0.0, shift.y)));
  const int x1 = old.br().x + reach + static_cast<int>(std::ceil(std::max(0.0, shift.x)));
  const int y1 = old.br().y + reach + static_cast<int>(std::ceil(std::max(0.0, shift.y)));
  const cv::Rect wanted(x0, y0, x1 - x0, y1 - y0), inside = wanted & cv::Rect({}, size);
  cv::Mat searched;
  cv::copyMakeBorder(now(inside), searched, inside.y - wanted.y, wanted.br().y - inside.br().y,
                     inside.x - wanted.x, wanted.br().x - inside.br().x, cv::BORDER_REPLICATE);
  Tracked out;
  double best = -1;
  for (const double scale : {1.0, .94, 1.06}) {
    cv::Mat sized, scores;
    cv::resize(patch, sized, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
    if (sized.cols > searched.cols || sized.rows > searched.rows || std::min(sized.cols, sized.rows) < 2)
      continue;
    cv::matchTemplate(searched, sized, scores, cv::TM_CCOEFF_NORMED);
    cv::patchNaNs(scores, -1);
    const Found found = peak_of(scores, sized.size());
    const double score = scale == 1.0 ? found.score : found.score - .02;  // sizes hold from frame to frame
    if (!std::isfinite(found.score) || score <= best) continue;
    best = score;
    const double width = old.width * scale, height = old.height * scale;
    out.box = clamped({(wanted.x + found.shift.x) / size.width, (wanted.y + found.shift.y) / size.height,
                       width / size.width, height / size.height});
    out.confidence = std::clamp((found.score - kLost) / (1 - kLost), 0.0, 1.0);
    if (found.score < found.rival + kApart) out.confidence /= 2;  // it may be the other one
  }
  if (out.box.empty()) out.confidence = 0;
  return out;
}

// shift: of the background, glance pixels.
Tracked followed(const Glance& before, const Region& box, const Glance& now, cv::Point2d shift) {
  if (box.empty()) return {};
  const double side = std::max(box.w * now.grey.cols, box.h * now.grey.rows),
               scale = std::min(1.0, kPatchSide / side);
  return followed_patch(smaller(before.grey, scale), box, smaller(now.grey, scale), shift * scale);
}

bool comparable(const Glance& before, const Glance& now) {
  return !before.grey.empty() && !now.grey.empty() && before.grey.size() == now.grey.size();
}

cv::Point2d shift_between(const Glance& before, const Glance& now) {
  const auto background = background_shift(before.grey, now.grey);
  return background ? background->by : cv::Point2d();
}

}  // namespace

Tracked follow_box(const Glance& before, const Region& box, const Glance& now) {
  if (!comparable(before, now)) return {};
  return followed(before, box, now, shift_between(before, now));
}

Tracked follow_animal(const Glance& before, const Region& box, const Glance& now, const cv::Mat& energy) {
  if (!comparable(before, now)) return {};
  const cv::Point2d shift = shift_between(before, now);
  const Tracked whole = followed(before, box, now, shift);
  if (whole.confidence >= kTrackTrusted || energy.empty()) return whole;
  const Tracked core = followed(before, grown(box, kCore), now, shift);
  if (core.confidence < kCoreTrusted) return whole;
  const StableBox drawn = stable_box(energy, core.box.centre_x(), core.box.centre_y());
  const double size = drawn.box.area() / box.area();
  if (drawn.stability < kStable || size < kLeastSize || size > 1 / kLeastSize) return whole;
  return {drawn.box, kTrackTrusted + core.confidence * drawn.stability / 4};
}

}  // namespace burstsieve::subject
