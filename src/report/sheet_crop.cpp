#include <algorithm>
#include <cmath>

#include "burstsieve/report/sheet.h"

namespace burstsieve::report {
namespace {

constexpr int kTile = 64;          // side of PoseDescriptor::tile
constexpr double kTileRim = 1.15;  // how much larger than the subject's longer side it is (group/pose.cpp)
constexpr int kPatch = 14;         // of the tile: a head is about a fifth of a bird

// A region of the wanted size about a point, moved inside the frame.
Region crop_about(double x, double y, const FrameFacts& facts) {
  const double w = std::min(1.0, kCropWidth / static_cast<double>(facts.pixel_width));
  const double h = std::min(1.0, kCropHeight / static_cast<double>(facts.pixel_height));
  return {std::clamp(x - w / 2, 0.0, 1 - w), std::clamp(y - h / 2, 0.0, 1 - h), w, h};
}

// Where the picture of the subject changes most from pixel to pixel: an eye, a bill, drawn feather. Tells
// detail from plain plumage; whether it is sharp is for the eye to say.
bool most_detailed(const FrameFacts& facts, const Region& box, double& x, double& y) {
  const auto& tile = facts.pose.tile;
  if (tile.size() != static_cast<std::size_t>(kTile) * kTile) return false;
  const auto at = [&](int col, int row) {
    return static_cast<int>(tile[static_cast<std::size_t>(row * kTile + col)]);
  };
  // Sums over patches, by a table of sums.
  std::vector<long> sums(static_cast<std::size_t>(kTile + 1) * (kTile + 1), 0);
  const auto sum = [&](int col, int row) -> long& {
    return sums[static_cast<std::size_t>(row * (kTile + 1) + col)];
  };
  for (int row = 0; row < kTile; ++row)
    for (int col = 0; col < kTile; ++col) {
      const int dx = col + 1 < kTile ? at(col + 1, row) - at(col, row) : 0;
      const int dy = row + 1 < kTile ? at(col, row + 1) - at(col, row) : 0;
      sum(col + 1, row + 1) = dx * dx + dy * dy + sum(col, row + 1) + sum(col + 1, row) - sum(col, row);
    }
  long best = 0;
  int best_col = 0, best_row = 0;
  for (int row = 0; row + kPatch <= kTile; ++row)
    for (int col = 0; col + kPatch <= kTile; ++col) {
      const long here =
          sum(col + kPatch, row + kPatch) - sum(col, row + kPatch) - sum(col + kPatch, row) + sum(col, row);
      if (here <= best) continue;
      best = here;
      best_col = col;
      best_row = row;
    }
  if (best == 0) return false;
  const double side = kTileRim * std::max(box.w * facts.pixel_width, box.h * facts.pixel_height);
  x = box.centre_x() + ((best_col + kPatch / 2.0) / kTile - .5) * side / facts.pixel_width;
  y = box.centre_y() + ((best_row + kPatch / 2.0) / kTile - .5) * side / facts.pixel_height;
  return true;
}

}  // namespace

bool SheetOptions::shows(Verdict verdict) const {
  return only.empty() || std::find(only.begin(), only.end(), verdict) != only.end();
}

CropPlace crop_place(const FrameOutcome& o) {
  const FrameFacts& facts = o.facts;
  if (!facts.decoded || facts.pixel_width <= 0 || facts.pixel_height <= 0) return {};
  const auto& af = o.frame.capture.af;
  if (facts.subjects.empty()) {
    if (af) return {crop_about(af->box.centre_x(), af->box.centre_y(), facts), "focus point"};
    return {crop_about(.5, .5, facts), "middle"};
  }
  const Subject& bird = facts.subjects.front();
  if (bird.head && !bird.head->empty())
    return {crop_about(bird.head->centre_x(), bird.head->centre_y(), facts), "head"};
  if (af && share_inside(af->box, grown(bird.box, 1.1)) > .5)
    return {crop_about(af->box.centre_x(), af->box.centre_y(), facts), "focus point"};
  double x = bird.box.centre_x(), y = bird.box.centre_y();
  most_detailed(facts, bird.box, x, y);
  return {crop_about(x, y, facts), "detail"};
}

}  // namespace burstsieve::report
