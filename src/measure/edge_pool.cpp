#include "edge_pool.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "profile_fit.h"

namespace burstsieve::measure {
namespace {

// How far from a clean bump a profile may be out to kFlankReach, in parts of its peak. A neighbouring edge
// stands on one side: the odd part shows it. A trench on both sides is what sharpening in the camera digs: a
// deeper one may pass (.35) at the price of texture that reads 5 % low on grass and gravel.
constexpr double kOdd = .15, kEven = .20;
constexpr double kFlankReach = 3;    // in S
constexpr double kNoiseSlack = 2.5;  // standard deviations
constexpr double kWidest = 16;       // S^2 px^2: beyond, the reach does not show the flanks
// Fit range in S. Wider sees more of the neighbours, narrower more of the noise.
constexpr double kOneCore = 1.6, kPooledCore = 1.3;
// What counts as the same width, in S^2; even in the logarithm, so that noise pulls to neither side.
constexpr double kNarrowest = .7, kBroadest = 1.43;

struct Edge {
  HalfProfile half{};
  double strength = 0;        // coarse gradient on the ridge
  double variance = 0;        // S^2
  double added_variance = 0;  // see EdgeProfile
};

float between(const cv::Mat& m, float x, float y) {
  const int ix = static_cast<int>(x), iy = static_cast<int>(y);  // never negative: kRidgeMargin
  const float fx = x - static_cast<float>(ix), fy = y - static_cast<float>(iy);
  const float* a = m.ptr<float>(iy) + ix;
  const float* b = m.ptr<float>(iy + 1) + ix;
  return (1 - fy) * ((1 - fx) * a[0] + fx * a[1]) + fy * ((1 - fx) * b[0] + fx * b[1]);
}

// Variance that linear interpolation adds along the direction (nx, ny).
double interpolation_variance(float x, float y, float nx, float ny) {
  const float fx = x - std::floor(x), fy = y - std::floor(y);
  return nx * nx * fx * (1 - fx) + ny * ny * fy * (1 - fy);
}

struct Section {
  std::array<float, 2 * kProfileReach + 1> values{};
  double interpolation = 0;
  float at(int u) const { return values[static_cast<std::size_t>(kProfileReach + u)]; }
};

// The fine gradient's component along the coarse one's direction, across the ridge.
std::optional<Section> cut_across(const Gradient& fine, const Gradient& coarse, const Ridge& r, float nx,
                                  float ny) {
  const auto rx = static_cast<float>(r.x), ry = static_cast<float>(r.y);
  const float here = coarse.energy.at<float>(r.y, r.x), before = between(coarse.energy, rx - nx, ry - ny),
              after = between(coarse.energy, rx + nx, ry + ny);
  const float bend = before - 2 * here + after;
  const float top = bend < 0 ? std::clamp(.5f * (before - after) / bend, -.7f, .7f) : 0;
  Section out;
  double weight = 0;
  for (int u = -kProfileReach; u <= kProfileReach; ++u) {
    const float step = static_cast<float>(u) + top, x = rx + step * nx, y = ry + step * ny;
    const float value = between(fine.x, x, y) * nx + between(fine.y, x, y) * ny;
    out.values[static_cast<std::size_t>(kProfileReach + u)] = value;
    if (std::abs(u) > 2) continue;
    const double w = std::max(0.0f, value);
    out.interpolation += w * interpolation_variance(x, y, nx, ny);
    weight += w;
  }
  if (!(weight > 0) || !(out.at(0) > 0)) return std::nullopt;
  out.interpolation /= weight;
  return out;
}

bool stands_free(const Section& s, double variance, double noise) {
  // Both parts are means of two samples.
  const double peak = s.at(0), slack = kNoiseSlack * noise / std::sqrt(2.0);
  const int last = std::min(kProfileReach, static_cast<int>(std::ceil(kFlankReach * std::sqrt(variance))));
  for (int u = 1; u <= last; ++u) {
    const double even = .5 * (s.at(u) + s.at(-u)) - peak * std::exp(-u * u / (2 * variance));
    const double odd = .5 * std::abs(s.at(u) - s.at(-u));
    if (odd > kOdd * peak + slack || std::abs(even) > kEven * peak + slack) return false;
  }
  return true;
}

// Squared distance of the bump's centre from where it was cut, freed of what noise does to it. Curved edges
// lie beside the coarse scale's ridge; adding profiles off centre widens their sum by that much.
double off_centre(const Section& s, double variance, double noise) {
  double sum = 0, weight = 0;
  const double peak = s.at(0), reach = std::max(1.0, 1.2 * std::sqrt(variance));
  for (int u = 1; u <= kProfileReach && u <= reach; ++u) {
    const double after = s.at(u), before = s.at(-u);
    if (after <= .1 * peak || before <= .1 * peak) break;
    const double w = after * before * u;
    sum += w * std::log(after / before);
    weight += 2 * w * u;
  }
  if (!(weight > 0)) return 0;
  const double centre = variance * sum / weight;
  return std::clamp(centre * centre - variance * noise * noise / (peak * peak), -.2, .5);
}

std::optional<Edge> read_edge(const Gradient& fine, const Gradient& coarse, const Ridge& r, double noise) {
  const float gx = coarse.x.at<float>(r.y, r.x), gy = coarse.y.at<float>(r.y, r.x);
  Edge out;
  out.strength = std::hypot(gx, gy);
  if (!(out.strength > 0)) return std::nullopt;
  const auto length = static_cast<float>(out.strength);
  const auto section = cut_across(fine, coarse, r, gx / length, gy / length);
  if (!section) return std::nullopt;
  for (int u = 0; u <= kProfileReach; ++u)
    out.half[static_cast<std::size_t>(u)] = .5 * (section->at(u) + section->at(-u));
  out.variance = core_variance(out.half, kOneCore);
  if (!(out.variance > 0) || out.variance > kWidest) return std::nullopt;
  if (!stands_free(*section, out.variance, noise)) return std::nullopt;
  out.added_variance = section->interpolation + off_centre(*section, out.variance, noise);
  return out;
}

// The width below which a share of the edges' energy lies. Under half: where the box holds sharp and soft
// things, the sharp ones are the subject's (one sharp eye on a smooth breast). Noise scatters the widths, and
// a low share would then pick the narrow ones by chance: it goes back to the half.
double typical_variance(std::vector<Edge>& edges, double noise) {
  constexpr double kShare = .35, kNoisy = .08;  // noise over the profiles' peak
  std::sort(edges.begin(), edges.end(), [](const Edge& a, const Edge& b) { return a.variance < b.variance; });
  double total = 0, peak = 0, run = 0;
  for (const Edge& e : edges) {
    const double energy = e.strength * e.strength;
    total += energy;
    peak += energy * e.half[0];
  }
  const double noisiness = std::min(1.0, noise * total / peak / kNoisy);
  const double share = kShare + (.5 - kShare) * noisiness;
  for (const Edge& e : edges) {
    run += e.strength * e.strength;
    if (run >= share * total) return e.variance;
  }
  return edges.back().variance;
}

void pool(std::vector<Edge>& edges, double noise, EdgeProfile& out) {
  if (edges.empty()) return;
  const double typical = typical_variance(edges, noise);
  double weight = 0;
  for (const Edge& e : edges) {
    if (e.variance < kNarrowest * typical || e.variance > kBroadest * typical) continue;
    for (std::size_t u = 0; u < out.half.size(); ++u) out.half[u] += e.strength * e.half[u];
    out.added_variance += e.strength * e.strength * e.added_variance;
    weight += e.strength * e.strength;
    ++out.edges;
  }
  if (weight > 0) out.added_variance /= weight;
}

}  // namespace

PooledEdges pool_edges(const Gradient& fine, const Gradient& coarse, const std::vector<Ridge>& ridges,
                       double noise) {
  PooledEdges out;
  std::vector<Edge> all;
  std::array<std::vector<Edge>, kDirections> directed;
  for (const Ridge& r : ridges) {
    const auto direction = static_cast<std::size_t>(r.direction);
    ++out.directed[direction].seen;
    const auto edge = read_edge(fine, coarse, r, noise);
    if (!edge) continue;
    all.push_back(*edge);
    directed[direction].push_back(*edge);
  }
  out.all.seen = static_cast<int>(ridges.size());
  pool(all, noise, out.all);
  for (std::size_t k = 0; k < kDirections; ++k) pool(directed[k], noise, out.directed[k]);
  return out;
}

ProfileBlur profile_blur(const EdgeProfile& profile) {
  constexpr int kLeastEdges = 8;
  constexpr double kFilter = 1, kPixelAperture = 1.0 / 12;  // variances: fine scale; box one pixel wide
  if (profile.edges < kLeastEdges) return {};
  const double variance = core_variance(profile.half, kPooledCore);
  if (!(variance > 0)) return {};
  const double own = variance - kFilter - kPixelAperture - profile.added_variance;
  return {std::min(4.0, std::sqrt(std::max(0.0, own))), true};
}

}  // namespace burstsieve::measure
