#include "slanted_edge.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

namespace burstsieve::sfr {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr int kBinsPerPx = 4;
constexpr int kLeastSide = 16;  // px; below it there is no room for an edge and its two sides
constexpr double kStep = .005;  // cycles/px between rows of the table
constexpr double kTopFrequency = 1.0;
constexpr double kLargestCorrection = 10;  // as the standard caps the derivative's correction

Error refuse(const char* text) {
  return {Cause::unsupported, {}, text};
}

// (pi f w) / sin(pi f w): undoes an average over w px.
double box_correction(double frequency, double width) {
  const double a = kPi * frequency * width;
  return a < 1e-9 ? 1 : std::min(kLargestCorrection, a / std::max(1e-9, std::sin(a)));
}

// A polynomial in u = (row - middle) / half, so that its normal equations stay well conditioned.
struct Curve {
  std::vector<double> c;
  double middle = 0, half = 1;
  double at(double row) const {
    const double u = (row - middle) / half;
    double v = 0;
    for (auto i = c.rbegin(); i != c.rend(); ++i) v = v * u + *i;
    return v;
  }
  double slope(double row) const {
    const double u = (row - middle) / half;
    double v = 0;
    for (std::size_t i = c.size(); i-- > 1;) v = v * u + static_cast<double>(i) * c[i];
    return v / half;
  }
};

struct RowEdge {
  double row = 0, x = 0, weight = 0;
};

Curve fitted(const std::vector<RowEdge>& edges, int degree, int rows) {
  Curve curve;
  curve.middle = (rows - 1) / 2.0;
  curve.half = std::max(1.0, rows / 2.0);
  const int n = degree + 1;
  cv::Mat normal = cv::Mat::zeros(n, n, CV_64F), right = cv::Mat::zeros(n, 1, CV_64F), solution;
  for (const RowEdge& e : edges) {
    const double u = (e.row - curve.middle) / curve.half;
    for (int i = 0; i < n; ++i) {
      right.at<double>(i) += e.weight * std::pow(u, i) * e.x;
      for (int j = 0; j < n; ++j) normal.at<double>(i, j) += e.weight * std::pow(u, i + j);
    }
  }
  cv::solve(normal, right, solution, cv::DECOMP_SVD);
  curve.c.assign(solution.begin<double>(), solution.end<double>());
  return curve;
}

double hamming(double offset, double half) {
  return std::abs(offset) > half ? 0 : .54 + .46 * std::cos(kPi * offset / half);
}

// Centroid of the derivative around `centre`, pixel centres at whole numbers.
std::optional<RowEdge> row_edge(const cv::Mat& image, int row, double centre, double half, double sign) {
  const float* p = image.ptr<float>(row);
  double sum = 0, moment = 0;
  for (int x = 1; x + 1 < image.cols; ++x) {
    const double w = hamming(x - centre, half);
    const double d = sign * w * .5 * (p[x + 1] - p[x - 1]);
    sum += d;
    moment += d * x;
  }
  if (!(sum > 0)) return std::nullopt;
  const double x = moment / sum;
  if (x < 1 || x > image.cols - 2) return std::nullopt;
  return RowEdge{static_cast<double>(row), x, 1};
}

std::vector<RowEdge> row_edges(const cv::Mat& image, const Curve* near, double half, double sign) {
  std::vector<RowEdge> out;
  for (int y = 0; y < image.rows; ++y)
    if (const auto e = row_edge(image, y, near ? near->at(y) : (image.cols - 1) / 2.0, half, sign))
      out.push_back(*e);
  return out;
}

// The half of the rows that fit best decide a first straight line: noise far from the edge throws some off.
Curve robust_line(const std::vector<RowEdge>& edges, int rows) {
  Curve line = fitted(edges, 1, rows);
  std::vector<RowEdge> kept = edges;
  for (int round = 0; round < 4; ++round) {
    std::vector<double> off;
    for (const RowEdge& e : edges) off.push_back(std::abs(e.x - line.at(e.row)));
    std::vector<double> sorted = off;
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2),
                     sorted.end());
    const double limit = std::max(.5, 2.5 * sorted[sorted.size() / 2]);
    kept.clear();
    for (std::size_t i = 0; i < edges.size(); ++i)
      if (off[i] <= limit) kept.push_back(edges[i]);
    if (kept.size() < 4) break;
    line = fitted(kept, 1, rows);
  }
  return line;
}

struct Profile {
  std::vector<double> value;  // by bins along the normal
  double origin = 0;          // px from the edge to the centre of bin 0
};

// Mean of the pixels by their distance from the edge. Empty bins take the mean of their neighbours.
std::optional<Profile> binned(const cv::Mat& image, const Curve& edge) {
  const double reach = image.cols;
  const auto count = static_cast<std::size_t>(2 * reach * kBinsPerPx);
  std::vector<double> sum(count, 0), n(count, 0);
  std::size_t first = count, last = 0;
  for (int y = 0; y < image.rows; ++y) {
    const double at = edge.at(y), cosine = 1 / std::hypot(1, edge.slope(y));
    const float* p = image.ptr<float>(y);
    for (int x = 0; x < image.cols; ++x) {
      const double d = (x - at) * cosine;
      const auto bin = static_cast<std::ptrdiff_t>(std::floor((d + reach) * kBinsPerPx));
      if (bin < 0 || bin >= static_cast<std::ptrdiff_t>(count)) continue;
      sum[static_cast<std::size_t>(bin)] += p[x];
      n[static_cast<std::size_t>(bin)] += 1;
    }
  }
  // Only distances that most rows can see: at the ends few rows would decide.
  const double full = *std::max_element(n.begin(), n.end());
  for (std::size_t i = 0; i < count; ++i)
    if (n[i] >= .35 * full) first = std::min(first, i), last = std::max(last, i);
  if (first >= last) return std::nullopt;
  Profile out;
  out.origin = (static_cast<double>(first) + .5) / kBinsPerPx - reach;
  std::size_t empty = 0;
  for (std::size_t i = first; i <= last; ++i) {
    if (n[i] > 0) {
      out.value.push_back(sum[i] / n[i]);
      continue;
    }
    ++empty;
    std::size_t next = i;
    while (next < last && !(n[next] > 0)) ++next;
    const double after = n[next] > 0 ? sum[next] / n[next] : out.value.back();
    out.value.push_back((out.value.back() + after) / 2);
  }
  if (static_cast<double>(empty) > .05 * static_cast<double>(out.value.size())) return std::nullopt;
  return out;
}

struct Spread {
  std::vector<double> value, at;  // line spread and its place, px from the edge
  double contrast = 0;
};

// Mean over the outer eighths on both sides: dark and bright.
std::pair<double, double> sides(const std::vector<double>& v) {
  const auto n = static_cast<std::ptrdiff_t>(std::max<std::size_t>(2, v.size() / 8));
  return {std::accumulate(v.begin(), v.begin() + n, 0.0) / static_cast<double>(n),
          std::accumulate(v.end() - n, v.end(), 0.0) / static_cast<double>(n)};
}

// First place where the edge, smoothed over a pixel, has risen to `level` (0..1 of its contrast).
double crossing(const Profile& p, double low, double high, double level) {
  const auto n = static_cast<std::ptrdiff_t>(p.value.size());
  const double bar = low + level * (high - low);
  double last = 0;
  // From the middle outwards on the side where the crossing lies, so that noise far out does not answer.
  const auto smooth = [&](std::ptrdiff_t i) {
    double sum = 0;
    int c = 0;
    for (std::ptrdiff_t k = std::max<std::ptrdiff_t>(0, i - 2); k <= std::min(n - 1, i + 2); ++k)
      sum += p.value[static_cast<std::size_t>(k)], ++c;
    return sum / c;
  };
  const auto middle = static_cast<std::ptrdiff_t>(std::lround(-p.origin * kBinsPerPx));
  const int step = level < .5 ? -1 : 1;
  for (std::ptrdiff_t i = std::clamp<std::ptrdiff_t>(middle, 0, n - 1); i >= 0 && i < n; i += step) {
    last = p.origin + static_cast<double>(i) / kBinsPerPx;
    if (level < .5 ? smooth(i) <= bar : smooth(i) >= bar) break;
  }
  return last;
}

// 1 over the line spread and some room beside it, then falling to 0 as a half cosine: noise far out is kept
// out, and a spread of any shape goes through unchanged.
Spread line_spread(const Profile& p) {
  Spread out;
  const auto [low, high] = sides(p.value);
  out.contrast = high - low;
  const double left = crossing(p, low, high, .04), right = crossing(p, low, high, .96);
  const double centre = (left + right) / 2, width = right - left;
  const double flat = .75 * width + 1, fall = .5 * width + 2;
  for (std::size_t i = 1; i + 1 < p.value.size(); ++i) {
    const double at = p.origin + static_cast<double>(i) / kBinsPerPx;
    const double off = std::abs(at - centre) - flat;
    const double w = off <= 0 ? 1 : off >= fall ? 0 : .5 * (1 + std::cos(kPi * off / fall));
    if (w <= 0) continue;
    out.value.push_back(w * (p.value[i + 1] - p.value[i - 1]));
    out.at.push_back(at);
  }
  return out;
}

std::complex<double> transform(const Spread& s, double centre, double frequency) {
  std::complex<double> sum = 0;
  for (std::size_t i = 0; i < s.value.size(); ++i)
    sum += s.value[i] * std::polar(1.0, -2 * kPi * frequency * (s.at[i] - centre));
  return sum;
}

double falls_to(const Response& r, double level) {
  for (std::size_t i = 1; i < r.value.size(); ++i)
    if (r.value[i] <= level && r.value[i - 1] > level)
      return r.frequency[i - 1] +
             kStep * (r.value[i - 1] - level) / std::max(1e-12, r.value[i - 1] - r.value[i]);
  return 0;
}

// The first change of sign of the spread's transform about its centroid: a symmetric spread has a real one.
// What follows must rise well above what precedes noise's own wandering, or the response has merely ended.
std::optional<double> first_null(const Spread& s, double centre, double total) {
  constexpr double kFine = kStep / 5, kRises = .04;
  double last = 1;
  for (double f = kFine; f < kTopFrequency; f += kFine) {
    const double v = transform(s, centre, f).real() / total;
    if (v <= 0 && last > 0) {
      const double null = f - kFine * v / (v - last);
      double top = 0;
      for (double g = null; g < std::min(kTopFrequency, 1.8 * null); g += kStep)
        top = std::max(top, std::abs(transform(s, centre, g)) / std::abs(total));
      if (top < kRises) return std::nullopt;
      return null;
    }
    last = v;
  }
  return std::nullopt;
}

double total_difference(const cv::Mat& image, bool along_x) {
  const cv::Mat a = along_x ? image.colRange(1, image.cols) : image.rowRange(1, image.rows);
  const cv::Mat b = along_x ? image.colRange(0, image.cols - 1) : image.rowRange(0, image.rows - 1);
  return std::abs(cv::sum(a - b)[0]);
}

}  // namespace

Status Options::check() const {
  if (degree < 1 || degree > 5) return refuse("the edge's polynomial must be of degree 1 to 5");
  return Done{};
}

Result<Response> slanted_edge(const cv::Mat& linear, const Options& options) {
  if (const Status s = options.check(); !s) return s.error();
  if (linear.type() != CV_32F || linear.cols < kLeastSide || linear.rows < kLeastSide)
    return refuse("the region is too small for an edge: 16 x 16 px at least");
  // The edge runs down the columns from here on.
  const bool upright =
      total_difference(linear, true) / linear.cols >= total_difference(linear, false) / linear.rows;
  const cv::Mat image = upright ? linear.clone() : cv::Mat(linear.t());
  const double left = cv::mean(image.colRange(0, image.cols / 8 + 1))[0],
               right = cv::mean(image.colRange(image.cols - image.cols / 8 - 1, image.cols))[0];
  const double sign = right >= left ? 1 : -1;
  if (std::abs(right - left) < .02) return refuse("no edge: both sides are equally bright");

  auto edges = row_edges(image, nullptr, image.cols, sign);
  if (static_cast<int>(edges.size()) < kLeastSide) return refuse("no edge found in the region");
  Curve curve = robust_line(edges, image.rows);
  const int degree = std::min(options.degree, std::max(1, image.rows / 12));
  // Narrower with each pass: what lies far from the edge is noise.
  for (const double half : {image.cols / 2.0, image.cols / 3.0, image.cols / 3.0}) {
    edges = row_edges(image, &curve, half, sign);
    if (static_cast<int>(edges.size()) < kLeastSide) return refuse("no edge found in the region");
    curve = fitted(edges, degree, image.rows);
  }
  for (const double row : {0.0, image.rows - 1.0})
    if (curve.at(row) < 4 || curve.at(row) > image.cols - 5)
      return refuse("the edge leaves the region at its end; choose a wider region or fewer rows");
  const double tilt = (curve.at(image.rows - 1.0) - curve.at(0)) / (image.rows - 1);
  if (std::abs(tilt) * image.rows < 1.0)
    return refuse("the edge lies along the pixel grid; tilt the target by about 5 degrees");

  const auto profile = binned(image * sign, curve);
  if (!profile) return refuse("the edge does not cross the pixel grid evenly enough");
  const Spread spread = line_spread(*profile);
  const double total = std::accumulate(spread.value.begin(), spread.value.end(), 0.0);
  if (!(total > 0)) return refuse("no edge found in the region");
  double centre = 0;
  for (std::size_t i = 0; i < spread.value.size(); ++i) centre += spread.value[i] * spread.at[i] / total;

  Response out;
  // dx/dy of the edge in the image's own layout, y down; upright edges run along (tilt, 1).
  const double dx = upright ? tilt : 1, dy = upright ? 1 : tilt;
  out.edge_degrees = std::atan2(-dy, dx) * 180 / kPi;
  if (out.edge_degrees <= -90) out.edge_degrees += 180;
  out.contrast = spread.contrast;
  out.rows = static_cast<int>(edges.size());
  for (int i = 0; i * kStep <= kTopFrequency + 1e-9; ++i) {
    const double f = i * kStep;
    // The central difference spans two bins; the bin itself averages over one.
    const double correction = box_correction(f, 2.0 / kBinsPerPx) * box_correction(f, 1.0 / kBinsPerPx);
    out.frequency.push_back(f);
    out.value.push_back(std::abs(transform(spread, centre, f)) / total * correction);
  }
  out.mtf50 = falls_to(out, .5);
  out.mtf10 = falls_to(out, .1);
  out.first_null = first_null(spread, centre, total);
  return out;
}

double response_at(const Response& r, double frequency) {
  const double i = frequency / kStep;
  if (!(i >= 0) || r.value.size() < 2 || i > static_cast<double>(r.value.size() - 1)) return 0;
  const auto k = std::min(static_cast<std::size_t>(i), r.value.size() - 2);
  const double part = i - static_cast<double>(k);
  return (1 - part) * r.value[k] + part * r.value[k + 1];
}

}  // namespace burstsieve::sfr
