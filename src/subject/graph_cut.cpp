#include "graph_cut.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <opencv2/imgproc/detail/gcgraph.hpp>

namespace burstsieve::subject {
namespace {

// Tuned with the rest on the tuning cases (docs/subject.md); 3 loses thin necks less but lets reeds in.
constexpr float kStrength = 10;
constexpr float kLeastLink = .08f;
// Texture is measured on more than its own cell: half as much counts between neighbours.
constexpr float kTextureShare = .5f;
constexpr float kDiagonal = 1.41421356f;

struct Way {
  int dx, dy;
  float length;
};
constexpr Way kWays[4] = {{1, 0, 1}, {0, 1, 1}, {1, 1, kDiagonal}, {-1, 1, kDiagonal}};

float squared_step(const Look& a, const Look& b) {
  const Look d = a - b;
  const float texture = kTextureShare * d[3];
  return d[0] * d[0] + d[1] * d[1] + d[2] * d[2] + texture * texture;
}

}  // namespace

GraphCut::GraphCut(const cv::Mat_<Look>& looks, const cv::Mat1b& open)
    : links_(looks.size(), cv::Vec4f::all(0)), node_(looks.size(), -1) {
  const int w = looks.cols, h = looks.rows;
  const auto has = [&](int x, int y) { return x >= 0 && x < w && y < h; };
  double sum = 0;
  long steps = 0;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      if (open(y, x)) node_(y, x) = nodes_++;
      for (int k = 0; k < 2; ++k) {
        const int x2 = x + kWays[k].dx, y2 = y + kWays[k].dy;
        if (has(x2, y2)) sum += static_cast<double>(squared_step(looks(y, x), looks(y2, x2))), ++steps;
      }
    }
  const auto beta = static_cast<float>(sum > 0 ? static_cast<double>(steps) / (2 * sum) : 0);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x)
      for (int k = 0; k < 4; ++k) {
        const int x2 = x + kWays[k].dx, y2 = y + kWays[k].dy;
        if (!has(x2, y2) || (node_(y, x) < 0 && !open(y2, x2))) continue;
        links_(y, x)[k] = std::exp(-beta * squared_step(looks(y, x), looks(y2, x2)));
      }
}

cv::Mat1b GraphCut::divide(const cv::Mat1f& odds) const {
  const int w = node_.cols, h = node_.rows;
  cv::detail::GCGraph<float> graph(static_cast<unsigned>(nodes_), static_cast<unsigned>(8 * nodes_));
  for (int i = 0; i < nodes_; ++i) graph.addVtx();
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const int here = node_(y, x);
      if (here >= 0) graph.addTermWeights(here, std::max(0.0f, odds(y, x)), std::max(0.0f, -odds(y, x)));
      for (int k = 0; k < 4; ++k) {
        const int x2 = x + kWays[k].dx, y2 = y + kWays[k].dy;
        if (x2 < 0 || x2 >= w || y2 >= h) continue;
        const int there = node_(y2, x2);
        if (here < 0 && there < 0) continue;
        const float link = kStrength * (kLeastLink + (1 - kLeastLink) * links_(y, x)[k]) / kWays[k].length;
        if (here >= 0 && there >= 0)
          graph.addEdges(here, there, link, link);
        else
          graph.addTermWeights(std::max(here, there), 0, link);
      }
    }
  graph.maxFlow();
  cv::Mat1b out(h, w, static_cast<unsigned char>(0));
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x)
      if (node_(y, x) >= 0 && graph.inSourceSegment(node_(y, x))) out(y, x) = 1;
  return out;
}

double GraphCut::contrast(const cv::Mat1b& mask) const {
  double sum = 0;
  int count = 0;
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      for (int k = 0; k < 2; ++k) {
        const int x2 = x + kWays[k].dx, y2 = y + kWays[k].dy;
        if (x2 >= mask.cols || y2 >= mask.rows || mask(y, x) == mask(y2, x2)) continue;
        sum += 1 - static_cast<double>(links_(y, x)[k]);
        ++count;
      }
  return count > 0 ? sum / count : 0;
}

}  // namespace burstsieve::subject
