#include "burstsieve/measure/streak.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace burstsieve::measure {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kSearchFrom =
    2.2;  // px; a little below the shortest, so that the shortest is no end of range
constexpr double kTopRadius = .47;       // cycles/px; the corners beyond hold diagonals only
constexpr double kRingWidth = 1.0 / 96;  // cycles/px
constexpr int kWedges = 24;              // of 7.5 degrees
constexpr int kStride = 2;               // neighbours are one after the spectrum's mean of nine
// Leakage and what is not uniform in the motion keep the bars from being black.
constexpr float kLeastFloor = .003f;

// What a texture does on its own: more power one way than the other, alike at every distance or slowly
// changing with it. Fitted beside the bars, so that grass or feathers do not pass for a streak.
constexpr int kOwn = 6;
using Sums = cv::Vec<double, kOwn>;
using Floats = std::vector<float>;

// Frequencies of the half plane that can be used, with what is known at each, in plain arrays for the
// vectoriser.
struct Points {
  Floats u, v;    // cycles/px, sensor layout, v down
  Floats data;    // log power less its ring's mean
  Floats weight;  // 0..1
  Floats floor;   // noise as a share of the signal that no streak touches
  std::vector<int> ring;
  int rings = 0;
  double reach = 0;
  double softness = 0;                 // px
  std::array<Floats, kOwn> own;        // harmonics, less their ring's mean
  std::array<Floats, kOwn> heavy_own;  // times weight
  Floats heavy_data;
  cv::Matx<double, kOwn, kOwn> inverse;  // of the harmonics' normal equations
  Sums of_data;                          // harmonics against data
  double energy = 0;                     // of the data beyond what the harmonics explain
  double width = 0;                      // px, of the spectrum's windows
  int side = 0;
  std::size_t size() const { return u.size(); }
};

// Eight running sums: the compiler may not reorder one.
double dot(const Floats& a, const Floats& b) {
  std::array<float, 8> sum{};
  double total = 0;
  const std::size_t n = a.size(), whole = n - n % 8;
  for (std::size_t i = 0; i < whole; i += 8)
    for (std::size_t k = 0; k < 8; ++k) sum[k] += a[i + k] * b[i + k];
  for (std::size_t i = whole; i < n; ++i) total += static_cast<double>(a[i] * b[i]);
  for (const float s : sum) total += static_cast<double>(s);
  return total;
}

void centre_rings(const Points& p, Floats& values) {
  std::vector<double> sum(static_cast<std::size_t>(p.rings), 0), count(sum);
  for (std::size_t i = 0; i < p.size(); ++i) {
    sum[static_cast<std::size_t>(p.ring[i])] += static_cast<double>(values[i]);
    count[static_cast<std::size_t>(p.ring[i])] += 1;
  }
  for (std::size_t k = 0; k < sum.size(); ++k) sum[k] /= std::max(1.0, count[k]);
  for (std::size_t i = 0; i < p.size(); ++i)
    values[i] -= static_cast<float>(sum[static_cast<std::size_t>(p.ring[i])]);
}

double quantile(std::vector<double> v, double q) {
  if (v.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), v.begin() + at, v.end());
  return v[static_cast<std::size_t>(at)];
}

// Below it lies the picture's mean brightness, spread by the window.
double lowest_of(const Points& p) {
  return std::max(1.5 / p.width, 2.0 / p.side);
}

void take_points(const Spectrum& s, Points& p) {
  p.side = s.log_power.rows;
  p.width = s.width;
  const double lowest = lowest_of(p);
  for (int row = 0; row < p.side; row += kStride) {
    const double v = static_cast<double>(row < p.side / 2 ? row : row - p.side) / p.side;
    const float* line = s.log_power.ptr<float>(row);
    for (int col = 0; col < s.log_power.cols; col += kStride) {
      const double u = static_cast<double>(col) / p.side, radius = std::hypot(u, v);
      if (radius < lowest || radius > kTopRadius || (col == 0 && row >= p.side / 2)) continue;
      p.u.push_back(static_cast<float>(u));
      p.v.push_back(static_cast<float>(v));
      p.data.push_back(line[col]);
      p.ring.push_back(static_cast<int>((radius - lowest) / kRingWidth));
      p.rings = std::max(p.rings, p.ring.back() + 1);
    }
  }
}

// Log signal by ring -> sigma: y = a - b log f - 4 pi^2 sigma^2 f^2, b held near the usual 2.4. Only down to
// the first deep fall: beyond the null of a defocus disc it rises again.
double fall_off(const std::vector<double>& snr, double lowest) {
  constexpr double kUsual = 2.4, kHold = 2.0, kDeep = 4.5;
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0, 0, 0};
  double top = -1e9;
  int used = 0;
  for (std::size_t r = 0; r < snr.size() && snr[r] > 1; ++r) {
    const double f = lowest + (static_cast<double>(r) + .5) * kRingWidth;
    const double y = std::log(snr[r]) + kUsual * std::log(f);  // level for a sharp usual texture
    top = std::max(top, y);
    if (y < top - kDeep) break;
    const cv::Vec3d basis{1, -std::log(f), -f * f};
    for (int i = 0; i < 3; ++i) {
      right[i] += basis[i] * y;
      for (int j = 0; j < 3; ++j) normal(i, j) += basis[i] * basis[j];
    }
    ++used;
  }
  if (used < 3) return 0;
  normal(1, 1) += kHold * used;
  const cv::Vec3d fit = normal.solve(right, cv::DECOMP_CHOLESKY);
  return std::isfinite(fit[2]) ? std::sqrt(std::max(0.0, fit[2])) / (2 * kPi) : 0;
}

// How far the signal stands above the noise at every distance from the origin. The noise: the lowest wedges
// of the outer rings; the signal: the brightest wedges of the ring, where a streak leaves it alone.
void weigh(Points& p) {
  const auto rings = static_cast<std::size_t>(p.rings);
  std::vector<std::array<double, kWedges>> sum(rings), count(rings);
  for (auto* all : {&sum, &count})
    for (auto& ring : *all) ring.fill(0);
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double turn = std::atan2(p.v[i], p.u[i]) / static_cast<float>(kPi) + .5;  // 0..1
    const auto wedge = static_cast<std::size_t>(std::clamp(turn * kWedges, 0.0, kWedges - 1.0));
    sum[static_cast<std::size_t>(p.ring[i])][wedge] += static_cast<double>(p.data[i]);
    count[static_cast<std::size_t>(p.ring[i])][wedge] += 1;
  }
  std::vector<double> outer, bright(rings, 0);
  for (std::size_t r = 0; r < rings; ++r) {
    std::vector<double> wedges;
    for (std::size_t k = 0; k < kWedges; ++k)
      if (count[r][k] > 0) wedges.push_back(sum[r][k] / count[r][k]);
    double points = 0;
    for (const double n : count[r]) points += n / kWedges;
    // Small rings have few points to a wedge: chance alone makes some of them bright.
    bright[r] = quantile(wedges, .9) - .6 / std::sqrt(std::max(1.0, points));
    if (r >= rings / 2) outer.insert(outer.end(), wedges.begin(), wedges.end());
  }
  // Of pure noise, the brightest and the lowest wedges differ by about this much.
  constexpr double kChance = .2;
  const double noise = quantile(outer, .03) + kChance;
  Floats ring_weight(rings), ring_floor(rings);
  std::vector<double> ratios;
  for (std::size_t r = 0; r < rings; ++r) {
    const double snr = std::max(0.0, std::exp(std::min(20.0, bright[r] - noise)) - 1);
    const double w = std::clamp((snr - .5) / (snr + 1), 0.0, 1.0);
    ratios.push_back(snr);
    ring_weight[r] = static_cast<float>(w);
    ring_floor[r] = std::max(kLeastFloor, static_cast<float>(1 / std::max(.1, snr)));
    p.reach += w / p.rings;
  }
  p.softness = fall_off(ratios, lowest_of(p));
  for (const int r : p.ring) {
    p.weight.push_back(ring_weight[static_cast<std::size_t>(r)]);
    p.floor.push_back(ring_floor[static_cast<std::size_t>(r)]);
  }
}

Sums against_own(const Points& p, const Floats& values) {
  Sums b;
  for (int k = 0; k < kOwn; ++k) b[k] = dot(p.heavy_own[static_cast<std::size_t>(k)], values);
  return b;
}

void fit_texture(Points& p) {
  // Held back by a twentieth: the bars of short streaks look much like the harmonics.
  constexpr double kRidge = .05;
  for (auto& h : p.own) h.resize(p.size());
  for (std::size_t i = 0; i < p.size(); ++i) {
    const float u = p.u[i], v = p.v[i], r2 = u * u + v * v;
    const float c2 = (u * u - v * v) / r2, s2 = 2 * u * v / r2, slow = .5f * std::log(r2 / (.12f * .12f));
    const std::array<float, kOwn> h{c2, s2, c2 * slow, s2 * slow, c2 * c2 - s2 * s2, 2 * c2 * s2};
    for (std::size_t k = 0; k < kOwn; ++k) p.own[k][i] = h[k];
  }
  for (std::size_t k = 0; k < kOwn; ++k) {
    centre_rings(p, p.own[k]);
    p.heavy_own[k] = p.own[k];
    for (std::size_t i = 0; i < p.size(); ++i) p.heavy_own[k][i] *= p.weight[i];
  }
  p.heavy_data = p.data;
  for (std::size_t i = 0; i < p.size(); ++i) p.heavy_data[i] *= p.weight[i];
  cv::Matx<double, kOwn, kOwn> normal;
  for (int k = 0; k < kOwn; ++k) {
    const Sums column = against_own(p, p.own[static_cast<std::size_t>(k)]);
    for (int j = 0; j < kOwn; ++j) normal(j, k) = column[j];
  }
  for (int k = 0; k < kOwn; ++k) normal(k, k) = normal(k, k) * (1 + kRidge) + 1e-6;
  p.inverse = normal.inv(cv::DECOMP_CHOLESKY);
  p.of_data = against_own(p, p.data);
  p.energy = dot(p.heavy_data, p.data) - p.of_data.dot(p.inverse * p.of_data);
}

Points points_of(const Spectrum& s) {
  Points p;
  take_points(s, p);
  if (p.size() < 200) return {};
  weigh(p);
  centre_rings(p, p.data);
  for (float& d : p.data) d = std::clamp(d, -6.0f, 4.0f);  // glints, and the bottoms of bars
  fit_texture(p);
  return p;
}

// One point in `stride`, for the steps that only need to find the right hill.
Points thinned(const Points& p, std::size_t stride) {
  Points q;
  q.rings = p.rings;
  q.width = p.width;
  q.side = p.side;
  for (std::size_t i = 0; i < p.size(); i += stride) {
    q.u.push_back(p.u[i]);
    q.v.push_back(p.v[i]);
    q.data.push_back(p.data[i]);
    q.weight.push_back(p.weight[i]);
    q.floor.push_back(p.floor[i]);
    q.ring.push_back(p.ring[i]);
  }
  fit_texture(q);
  return q;
}

// sinc^2(x) by table, 0..48; beyond it, nothing is left.
class SincSquared {
 public:
  SincSquared() {
    for (std::size_t i = 0; i < table_.size(); ++i) {
      const double x = static_cast<double>(i) / kPer * kPi;
      table_[i] = static_cast<float>(x < 1e-6 ? 1 : std::pow(std::sin(x) / x, 2));
    }
  }
  float operator()(float x) const {
    const float at = std::min(std::abs(x) * kPer, static_cast<float>(table_.size() - 2));
    const auto i = static_cast<std::size_t>(at);
    const float part = at - static_cast<float>(i);
    return table_[i] + part * (table_[i + 1] - table_[i]);
  }

 private:
  static constexpr int kPer = 64;
  std::array<float, 48 * kPer> table_{};
};

// How much of the bars' depth survives the width of the window and the mean of neighbours:
// cos(2 pi L s) under a Gaussian kernel.
double crispness(const Points& p, double length) {
  const double window = .42 / p.width;     // standard deviation of a Hann window's power kernel
  const double neighbours = .82 / p.side;  // of three samples
  return std::exp(-2 * std::pow(kPi * length * std::hypot(window, neighbours), 2));
}

// Power that a streak leaves at x = L s. crisp: 1 for black bars, 0 for their envelope alone.
float transfer(float x, float crisp) {
  static const SincSquared sinc_squared;
  constexpr auto kPi2 = static_cast<float>(kPi * kPi);
  return crisp * sinc_squared(x) + (1 - crisp) * .5f / (.5f + kPi2 * x * x);
}

Floats pattern(const Points& p, double length, double angle, double crisp) {
  const auto c = static_cast<float>(length * std::cos(angle)),
             s = static_cast<float>(length * std::sin(angle));
  const auto m = static_cast<float>(crisp);
  Floats out(p.size());
  for (std::size_t i = 0; i < p.size(); ++i)
    out[i] = (transfer(p.u[i] * c + p.v[i] * s, m) + p.floor[i]) / (1 + p.floor[i]);
  cv::Mat view(1, static_cast<int>(out.size()), CV_32F, out.data());
  cv::log(view, view);
  centre_rings(p, out);
  return out;
}

struct Candidate {
  double length = 0, angle = 0;  // px; radians in the sensor's layout, y down
  double gain = -1e30;           // fall of the squared error against no streak
  double amplitude = 0;
};

// Weighted square of a pattern beyond what the harmonics explain, and its product with the data.
struct Match {
  double square = 0, product = 0;
};
Match match(const Points& p, const Floats& t) {
  Match m;
  std::array<float, 8> sum{};
  const std::size_t n = t.size();
  for (std::size_t i = 0; i + 8 <= n; i += 8)
    for (std::size_t k = 0; k < 8; ++k) sum[k] += p.weight[i + k] * t[i + k] * t[i + k];
  for (std::size_t i = n - n % 8; i < n; ++i) m.square += static_cast<double>(p.weight[i] * t[i] * t[i]);
  for (const float s : sum) m.square += static_cast<double>(s);
  const Sums own = against_own(p, t), solved = p.inverse * own;
  m.square -= solved.dot(own);
  m.product = dot(p.heavy_data, t) - solved.dot(p.of_data);
  return m;
}

Candidate judged(const Points& p, double length, double angle, bool envelope) {
  const Match m = match(p, pattern(p, length, angle, envelope ? 0 : crispness(p, length)));
  return {length, angle, 2 * m.product - m.square, m.square > 0 ? m.product / m.square : 0};
}

double mean_floor(const Points& p) {
  double sum = 0, total = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    sum += static_cast<double>(p.weight[i] * std::log(p.floor[i]));
    total += static_cast<double>(p.weight[i]);
  }
  return total > 0 ? std::exp(sum / total) : 1;
}

// Data beyond the harmonics, weighted.
Floats unexplained(const Points& p) {
  const Sums solved = p.inverse * p.of_data;
  Floats out = p.heavy_data;
  for (int k = 0; k < kOwn; ++k) {
    const auto c = static_cast<float>(solved[k]);
    const Floats& h = p.heavy_own[static_cast<std::size_t>(k)];
    for (std::size_t i = 0; i < p.size(); ++i) out[i] -= c * h[i];
  }
  return out;
}

constexpr int kBins = 256;  // across 0 .. .5 cycles/px

// The bars of one length along a line, over one floor for all distances.
struct Comb {
  double length = 0, square = 0;
  std::array<float, kBins> bars{};
};

std::vector<Comb> combs(const Points& p, double longest) {
  const auto floor = static_cast<float>(mean_floor(p));
  Points flat = p;
  std::fill(flat.floor.begin(), flat.floor.end(), floor);
  std::vector<Comb> out;
  for (double length = kSearchFrom; length <= longest; length *= 1.08) {
    Comb comb;
    comb.length = length;
    const double crisp = crispness(p, length);
    comb.square = match(flat, pattern(flat, length, .4, crisp)).square;  // .4: off the grid's symmetries
    for (std::size_t b = 0; b < kBins; ++b) {
      const auto x = static_cast<float>(length * (static_cast<double>(b) + .5) / kBins * .5);
      comb.bars[b] = std::log((transfer(x, static_cast<float>(crisp)) + floor) / (1 + floor));
    }
    out.push_back(comb);
  }
  return out;
}

// The data summed over lines across each angle meet the bars of every length at once.
std::vector<Candidate> first_look(const Points& p, double longest) {
  constexpr int kAngles = 60;
  constexpr std::size_t kKept = 4;
  const Floats data = unexplained(p);
  const auto all = combs(p, longest);
  std::vector<Candidate> found;
  for (int a = 0; a < kAngles; ++a) {
    const double angle = a * kPi / kAngles;
    const auto c = static_cast<float>(std::cos(angle) * 2 * kBins),
               s = static_cast<float>(std::sin(angle) * 2 * kBins);
    std::array<float, kBins> line{};
    for (std::size_t i = 0; i < p.size(); ++i)
      line[static_cast<std::size_t>(
          std::min(kBins - 1, static_cast<int>(std::abs(p.u[i] * c + p.v[i] * s))))] += data[i];
    for (const Comb& comb : all) {
      double product = 0;
      for (std::size_t b = 0; b < kBins; ++b) product += static_cast<double>(line[b] * comb.bars[b]);
      found.push_back({comb.length, angle, 2 * product - comb.square, 0});
    }
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Candidate& a, const Candidate& b) { return a.gain > b.gain; });
  std::vector<Candidate> kept;
  for (const Candidate& c : found) {
    if (kept.size() >= kKept) break;
    const bool apart = std::all_of(kept.begin(), kept.end(), [&](const Candidate& k) {
      return std::abs(std::remainder(k.angle - c.angle, kPi)) > .2 ||
             std::abs(std::log(k.length / c.length)) > .25;
    });
    if (apart) kept.push_back(c);
  }
  return kept;
}

// Uphill in angle and length by ever smaller steps, down to `finest` radians.
Candidate climbed(const Points& p, const Candidate& start, double longest, bool envelope, double first,
                  double finest) {
  Candidate best = judged(p, start.length, start.angle, envelope);
  for (double turn = first; turn > finest;) {
    const double stretch = 1.2 * turn;
    bool moved = false;
    for (const auto& [da, dl] : {std::pair{turn, 0.0}, {-turn, 0.0}, {0.0, stretch}, {0.0, -stretch}}) {
      const double length = std::clamp(best.length * (1 + dl), .8 * kSearchFrom, longest);
      const Candidate c = judged(p, length, best.angle + da, envelope);
      if (c.gain > best.gain) best = c, moved = true;
    }
    if (!moved) turn /= 2;
  }
  return best;
}

double upright_degrees(double angle, int orientation) {
  double dx = std::cos(angle), dy = std::sin(angle);  // y down; the sign of the whole does not matter
  if (orientation == 2 || orientation == 4) dx = -dx;
  if (orientation >= 5 && orientation <= 8) std::swap(dx, dy);
  if (orientation == 6 || orientation == 8) dx = -dx;
  const double degrees = std::remainder(std::atan2(-dy, dx) * 180 / kPi, 180);
  return degrees <= -90 ? degrees + 180 : degrees;
}

// A streak is believed as far as its bars show beyond their envelope: lines, grain and feathers have the
// envelope, not the bars. On 37 sharp crops of textures and photographs none of 3 px or more reached .02,
// of 600 streaks of 5 to 28 px 95 % passed .06 (docs/measures.md). Long ones have paler bars by nature.
double believed(const Streak& s, double length, double crisp) {
  const double needed = std::max(.03, .07 * crisp * crisp);
  const double depth = s.amplitude > .5 && s.amplitude < 1.7 ? 1 : .5;
  const double by_bars =
      std::clamp((s.bars / needed - .25) / .75, 0.0, 1.0) * std::clamp(s.share / .15, 0.0, 1.0) * depth;
  // The bars of streaks beyond 24 px lie closer than the window can part: there the envelope has to do, where
  // it explains more than the lines of any sharp crop did (.30) and is as deep as motion's.
  const double by_envelope =
      length > 24 && s.amplitude > .9 ? .8 * std::clamp((s.share - .31) / .08, 0.0, 1.0) : 0;
  return std::max(by_bars, by_envelope);
}

}  // namespace

Streak find_streak(const Spectrum& spectrum, int orientation) {
  Streak out;
  if (spectrum.windows == 0) return out;
  const Points p = points_of(spectrum);
  if (p.size() == 0 || !(p.energy > 0)) return out;
  out.reach = p.reach;
  out.softness = p.softness;
  // A tenth of the frequencies clear of noise is the least that shows a bar.
  if (p.reach < .04) return out;
  const double longest = std::min(kLongestStreak * 1.05, spectrum.width / 3);
  const Points few = thinned(p, 3);
  const double step = 1.5 * kPi / 60;
  Candidate best;
  double best_score = -1e30;
  for (const Candidate& c : first_look(few, longest)) {
    const Candidate top = climbed(few, c, longest, false, step, .01);
    // Bars beyond their envelope count: rows of bricks have the better envelope.
    const double envelope = climbed(few, top, longest, true, step, .02).gain;
    const double score = top.gain - std::max(0.0, envelope);
    if (score > best_score) best = top, best_score = score;
  }
  best = climbed(p, best, longest, false, .02, .004);
  const Candidate envelope = climbed(p, best, longest, true, step, .01);
  out.share = best.gain / p.energy;
  out.bars = (best.gain - std::max(0.0, envelope.gain)) / p.energy;
  out.amplitude = best.amplitude;
  // The window's taper draws long bars apart: 20 px read 19.7 and 40 px 38.4 over 170 px before.
  const double length = best.length / (1 - .17 * best.length / spectrum.width);
  const double sure = believed(out, length, crispness(p, best.length));
  if (length < kShortestStreak || sure < .2) {
    // Directions that differ this much may be a long streak after all.
    const double doubt = length > kShortestStreak ? std::clamp((out.share - .1) / .2, 0.0, 1.0) : 0;
    out.confidence = std::clamp((p.reach - .04) / .3, 0.0, 1.0) * (1 - sure) * (1 - doubt);
    return out;
  }
  out.length = length;
  out.degrees = upright_degrees(best.angle, orientation);
  out.confidence = .95 * sure;
  return out;
}

bool streak_possible(const Detail& detail) {
  double least = 1e9, most = 0;
  int known = 0;
  for (int k = 0; k < kDirections; ++k) {
    const EdgeBlur blur = edge_blur(detail, k);
    if (blur.confidence <= .1) continue;
    least = std::min(least, blur.sigma * blur.sigma);
    most = std::max(most, blur.sigma * blur.sigma);
    ++known;
  }
  // Where edges of most directions are missing, they may be missing because they are streaked.
  if (known < kDirections * 2 / 3) return true;
  return most - least > .5 * kShortestStreak * kShortestStreak / 12 || least > 1;
}

double edges_agree(const Detail& detail, const Streak& streak) {
  const auto bin = [](double degrees) { return static_cast<int>(std::lround(degrees / 15)); };
  const EdgeBlur along = edge_blur(detail, bin(streak.degrees));
  if (along.confidence <= .1) return .8;  // no such edge is left: no objection
  // Wide ramps saturate the edge's own measure: more than this is not asked for.
  const double expected = std::min(streak.length / std::sqrt(12.0), 2.0);
  return std::clamp(along.sigma / expected / .7, 0.0, 1.0);
}

}  // namespace burstsieve::measure
