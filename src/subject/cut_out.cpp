#include "burstsieve/subject/cut_out.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "burstsieve/subject/energy_map.h"
#include "cut_scene.h"
#include "graph_cut.h"

namespace burstsieve::subject {
namespace {

constexpr int kFewestCells = 8;   // of the picture's sides
constexpr int kFewestLooks = 16;  // for a model
constexpr int kMostLooks = 1000;  // that a model is made of: more cost time and change nothing
constexpr int kParts = 5;         // Gaussians for each of animal and background
constexpr int kRounds = 2;
constexpr float kMostOdds = 6;  // what one cell's look can say
// Boxes end a little inside or outside the animal.
constexpr double kBoxSlack = 1.5;  // cells

// Log odds that a place in an animal's box is the animal's before anything was seen: more in the middle, less
// in the corners. Where rendered and photographed birds of the tuning cases lie in their boxes.
float prior_odds(const cv::Rect2d& box, double x, double y) {
  const double dx = (x - box.x - box.width / 2) / (box.width / 2),
               dy = (y - box.y - box.height / 2) / (box.height / 2);
  return static_cast<float>(.7 - 2.2 * (dx * dx + dy * dy));
}

cv::Mat1f prior_over(cv::Size size, const cv::Rect2d& box) {
  cv::Mat1f out(size);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) out(y, x) = prior_odds(box, x + .5, y + .5);
  return out;
}

cv::Mat1b open_cells(cv::Size size, const cv::Rect2d& box) {
  const cv::Rect2d wide(box.x - kBoxSlack, box.y - kBoxSlack, box.width + 2 * kBoxSlack,
                        box.height + 2 * kBoxSlack);
  cv::Mat1b out(size);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) out(y, x) = wide.contains(cv::Point2d(x + .5, y + .5));
  return out;
}

// Of the cells where `chosen` is `value`, evenly spread.
std::vector<Look> looks_where(const cv::Mat_<Look>& looks, const cv::Mat1b& chosen, int value) {
  const int ones = cv::countNonZero(chosen),
            count = value != 0 ? ones : static_cast<int>(chosen.total()) - ones;
  const int step = std::max(1, count / kMostLooks);
  std::vector<Look> out;
  out.reserve(static_cast<std::size_t>(count / step + 1));
  int at = 0;
  for (int y = 0; y < looks.rows; ++y)
    for (int x = 0; x < looks.cols; ++x)
      if (chosen(y, x) == value && at++ % step == 0) out.push_back(looks(y, x));
  return out;
}

// What the surroundings do not explain, most of all in the box's middle.
cv::Mat1b first_guess(const cv::Mat_<Look>& looks, const cv::Mat1b& open, const cv::Mat1f& prior) {
  const auto around = looks_where(looks, open, 0);
  if (static_cast<int>(around.size()) < kFewestLooks) return {};
  const LookModel behind(around, kParts);
  std::vector<float> usual;
  for (const Look& l : around) usual.push_back(behind.cost(l));
  const auto ninth = usual.begin() + static_cast<std::ptrdiff_t>(usual.size() * 9 / 10);
  std::nth_element(usual.begin(), ninth, usual.end());
  cv::Mat1b out(looks.size(), static_cast<unsigned char>(0));
  for (int y = 0; y < looks.rows; ++y)
    for (int x = 0; x < looks.cols; ++x)
      if (open(y, x))
        out(y, x) = std::clamp(behind.cost(looks(y, x)) - *ninth, -3.0f, 6.0f) + 2 * prior(y, x) > 0;
  return out;
}

struct Division {
  cv::Mat1b mask;
  double margin = 0;  // 0..1: how sure the looks are of their cells, on the mean
};

Division divided(const cv::Mat_<Look>& looks, const cv::Mat1b& open, const cv::Mat1f& prior,
                 const GraphCut& graph, const cv::Mat1b& guess) {
  Division out;
  out.mask = guess;
  cv::Mat1f odds(looks.size(), 0.0f);
  for (int round = 0; round < kRounds; ++round) {
    const auto animal = looks_where(looks, out.mask, 1), rest = looks_where(looks, out.mask, 0);
    if (static_cast<int>(std::min(animal.size(), rest.size())) < kFewestLooks) return {};
    const LookModel front(animal, kParts), behind(rest, kParts);
    double sure = 0;
    for (int y = 0; y < looks.rows; ++y)
      for (int x = 0; x < looks.cols; ++x) {
        if (!open(y, x)) continue;
        const float seen = behind.cost(looks(y, x)) - front.cost(looks(y, x));
        const float said = std::clamp(seen, -kMostOdds, kMostOdds);
        sure += static_cast<double>(std::abs(said));
        odds(y, x) = said + prior(y, x);
      }
    out.margin = sure / static_cast<double>(kMostOdds) / std::max(1, cv::countNonZero(open));
    cv::Mat1b next = graph.divide(odds);
    const bool settled = cv::countNonZero(next != out.mask) * 500 < cv::countNonZero(open);
    out.mask = std::move(next);
    if (settled) break;
  }
  return out;
}

// The largest piece and those of a tenth of it or more, holes filled: smooth or clipped plumage can look like
// the sky behind it, but not if the bird is all around it.
cv::Mat1b solid(const cv::Mat1b& mask) {
  cv::Mat1b padded;
  cv::copyMakeBorder(mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(padded, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  double largest = 0;
  for (const auto& o : outlines) largest = std::max(largest, cv::contourArea(o));
  padded.setTo(0);
  for (std::size_t i = 0; i < outlines.size(); ++i)
    if (cv::contourArea(outlines[i]) >= .1 * largest)
      cv::drawContours(padded, outlines, static_cast<int>(i), cv::Scalar(1), cv::FILLED);
  return padded(cv::Rect(1, 1, mask.cols, mask.rows)).clone();
}

// Overlap of the mask's own box with the one that was given.
double agreement(const cv::Mat1b& mask, const cv::Rect2d& box) {
  const cv::Rect own = cv::boundingRect(mask);
  return overlap({static_cast<double>(own.x), static_cast<double>(own.y), static_cast<double>(own.width),
                  static_cast<double>(own.height)},
                 {box.x, box.y, box.width, box.height});
}

struct MaskSigns {
  double agreement = 0;  // see above
  double contrast = 0;   // GraphCut::contrast
  double margin = 0;     // Division::margin
  double share = 0;      // of the box
};

// A logistic regression of "overlaps the animal by .7 or more" on the tuning cases (docs/subject.md has what
// it is worth on others). Beyond the caps more of a sign says nothing more.
double confidence_of(const MaskSigns& s) {
  const double z = 4.3 + 4.0 * (std::min(s.agreement, .85) - .85) + 2.0 * (std::min(s.contrast, .9) - .9) +
                   10.4 * (std::min(s.margin, .9) - .9) + 10.5 * (std::min(s.share, .3) - .3);
  return 1 / (1 + std::exp(-z));
}

struct Cut {
  cv::Mat1b mask;  // empty: nothing can be told
  MaskSigns signs;
};

Cut cut_from(const CutScene& scene) {
  Cut out;
  const cv::Mat_<Look>& looks = scene.looks;
  if (std::min(looks.cols, looks.rows) < kFewestCells) return out;
  const cv::Mat1b open = open_cells(looks.size(), scene.box);
  const cv::Mat1f prior = prior_over(looks.size(), scene.box);
  const cv::Mat1b guess = first_guess(looks, open, prior);
  if (guess.empty()) return out;
  const GraphCut graph(looks, open);
  const Division d = divided(looks, open, prior, graph, guess);
  if (d.mask.empty() || cv::countNonZero(d.mask) == 0) return out;
  out.mask = solid(d.mask);
  out.signs = {agreement(out.mask, scene.box), graph.contrast(out.mask), d.margin,
               cv::countNonZero(out.mask) / std::max(1.0, scene.box.area())};
  return out;
}

}  // namespace

CellMask cut_out(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                 const Region& box) {
  CellMask out;
  const CutScene scene = cut_scene(planes, eighth, activity, clamped(box));
  const Cut cut = cut_from(scene);
  if (cut.mask.empty()) return out;
  out.cols = cut.mask.cols;
  out.rows = cut.mask.rows;
  out.cells.assign(cut.mask.begin(), cut.mask.end());
  out.where = scene.where;
  out.confidence = confidence_of(cut.signs);
  return out;
}

CellMask outline_of(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& activity,
                    const cv::Mat& energy, const Region& box) {
  CellMask out = cut_out(planes, eighth, activity, box);
  return out.confidence >= kTrustedMask ? out : subject_mask(energy, box);
}

}  // namespace burstsieve::subject
