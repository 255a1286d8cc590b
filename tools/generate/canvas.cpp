#include "canvas.h"

#include <limits>

#include "random.h"

namespace burstsieve::generate {
namespace {

// Plumage above this reflectance counts as white; greys of gull backs lie below it.
constexpr double white_reflectance = .55;

struct Box {
  int x0, y0, x1, y1;
};

Box box_of(const std::vector<V2>& points, double margin, cv::Rect area) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (V2 p : points) {
    x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
  }
  const auto at = [](double v) { return static_cast<int>(std::floor(std::clamp(v, -1e8, 1e8))); };
  return {std::max(at(x0 - margin), area.x), std::max(at(y0 - margin), area.y),
          std::min(at(x1 + margin) + 1, area.x + area.width),
          std::min(at(y1 + margin) + 1, area.y + area.height)};
}

// Half-width of the leaf at s in 0..1, and its slope; negative outside.
void leaf(double s, double round_from, double& width, double& slope) {
  const double root = .5 + 2.2 * s;
  width = std::min(1.0, root);
  slope = root < 1 ? 2.2 : 0;
  if (s > round_from) {
    const double u = (s - round_from) / (1 - round_from);
    const double w = std::sqrt(std::max(0.0, 1 - u * u));
    slope = -u / std::max(w, .05) / (1 - round_from);
    width = std::min(width, w);
  }
  if (s > 1) width = -(s - 1) * 6;
  if (s < 0) width = .5 + s * 8;
}

// Barbs: streaks along the barb direction, in octaves from a few per vane down to the Nyquist limit.
float barbs(const Feather& f, double s, double t, double px_per_unit) {
  const double along = s * f.length - .55 * std::abs(t) * f.half;  // across the barbs: they slant to the tip
  const double out = std::abs(t) * f.half + .35 * s * f.length;
  const std::uint32_t side = t < 0 ? f.seed * 2u + 1u : f.seed * 2u;
  float sum = 0, gain = 1;
  double wavelength = .026;
  for (std::uint32_t octave = 0; octave < 6 && wavelength * px_per_unit > 2.0; ++octave, wavelength *= .5) {
    sum += gain * noise2(static_cast<float>(along / wavelength), static_cast<float>(out / (wavelength * 7)),
                         side + octave * 977u);
    gain = std::min(1.6f, gain * 1.25f);  // vanes are crispest at the finest scale one can see
  }
  return sum;
}

}  // namespace

V3 irradiance(V3 n) {
  static const V3 sun_direction = unit({-.42, .70, .58});
  const double up = .5 + .5 * n.y;
  const V3 sky{.235, .255, .29}, below{.135, .135, .125}, sun{.70, .675, .62};
  return mix(below, sky, up) + std::max(0.0, dot(n, sun_direction)) * sun;
}

Canvas::Canvas(cv::Rect area, double px_per_unit)
    : area_(area),
      px_per_unit_(px_per_unit),
      colour_(area.height, area.width, cv::Vec4f(0, 0, 0, 0)),
      white_(area.height, area.width, 0.0f),
      parts_(area.height, area.width, static_cast<unsigned char>(0)) {}

void Canvas::blend(int x, int y, V3 radiance, double alpha, double white, Part part) {
  cv::Vec4f& to = colour_(y - area_.y, x - area_.x);
  const auto a = static_cast<float>(alpha);
  to[0] = to[0] * (1 - a) + static_cast<float>(radiance.x) * a;
  to[1] = to[1] * (1 - a) + static_cast<float>(radiance.y) * a;
  to[2] = to[2] * (1 - a) + static_cast<float>(radiance.z) * a;
  to[3] = to[3] * (1 - a) + a;
  float& w = white_(y - area_.y, x - area_.x);
  w = w * (1 - a) + static_cast<float>(white) * a;
  if (alpha > .5) parts_(y - area_.y, x - area_.x) = static_cast<unsigned char>(part);
}

void Canvas::paint(const Feather& f) {
  const double det = f.axis.x * f.across.y - f.axis.y * f.across.x;
  const double axis_px = length(f.axis), across_px = length(f.across);
  if (axis_px < .3 || std::abs(det) / axis_px < .08) return;  // edge-on
  const double sx = f.across.y / det, sy = -f.across.x / det;
  const double tx = -f.axis.y / det, ty = f.axis.x / det;
  const double grad_s = std::hypot(sx, sy), grad_t = std::hypot(tx, ty);
  const double reach = std::max(1.0, .45 * across_px);  // of the contact shadow
  const double furthest = 1.06 + (reach + 1) * grad_t * 1.5;
  const double thin = std::min(1.0, 2 * std::abs(det) / axis_px);
  const V2 tip = f.base + f.axis + f.curve * f.across;
  const Box box =
      box_of({f.base + 1.1 * f.across, f.base - 1.1 * f.across, tip + 1.1 * f.across, tip - 1.1 * f.across,
              f.base + .5 * f.axis + 1.1 * f.across, f.base + .5 * f.axis - 1.1 * f.across},
             reach + 2, area_);
  for (int y = box.y0; y < box.y1; ++y) {
    for (int x = box.x0; x < box.x1; ++x) {
      const V2 d{x + .5 - f.base.x, y + .5 - f.base.y};
      const double s = sx * d.x + sy * d.y;
      if (s < -.2 || s > 1.3) continue;
      const double t = tx * d.x + ty * d.y - f.curve * s * s;
      if (std::abs(t) > furthest) continue;
      double width, slope;
      leaf(s, f.round_from, width, slope);
      const double rate = (std::abs(slope) + std::abs(2 * f.curve * s)) * grad_s;
      const double grad = std::sqrt(grad_t * grad_t + rate * rate);
      double gap = width - std::abs(t);
      if (s > .15 && std::abs(gap) < .06 + 2 * grad)  // elsewhere a ragged rim changes nothing
        gap += .05 * noise2(static_cast<float>(s * 26), t < 0 ? .5f : 7.5f, f.seed);
      const double inside = gap / grad;  // pixels
      if (inside < -.5) {
        if (inside < -reach || f.shadow <= 0) continue;
        cv::Vec4f& under = colour_(y - area_.y, x - area_.x);
        if (under[3] < .02f) continue;
        const double fall = 1 + inside / reach;
        const auto keep = static_cast<float>(1 - f.shadow * fall * fall);
        under[0] *= keep, under[1] *= keep, under[2] *= keep;
        continue;
      }
      const double cover = std::min(1.0, inside + .5) * thin;
      const double in_tip = f.tip_from > 1 ? 0 : smooth(f.tip_from - .03, f.tip_from + .05, s + .05 * t * t);
      const V3 reflect = mix(f.colour, f.tip_colour, in_tip);
      double shade = 1 + f.barb_contrast * barbs(f, s, t, px_per_unit_);
      shade *= 1 - .09 * t * t - .05 * t;  // vaulted vane
      shade *= f.root_shade + (1 - f.root_shade) * smooth(0, .55, s);
      shade *= 1 - .16 * std::max(0.0, 1 - std::abs(t) / (.05 + .05 * (1 - s)));  // rachis
      shade *= 1 + .05 * smooth(.55, .95, std::abs(t) / std::max(width, .2));     // lit rim
      const double s01 = std::clamp(s, 0.0, 1.0);
      const V3 radiance = std::max(.2, shade) * (reflect * mix(f.light_base, f.light_tip, s01));
      const double luma = .25 * reflect.x + .6 * reflect.y + .15 * reflect.z;
      blend(x, y, radiance, cover, luma > white_reflectance ? 1 : 0, f.part);
    }
  }
}

void Canvas::paint(const Stroke& stroke) {
  const auto& pts = stroke.points;
  if (pts.size() < 2) return;
  std::vector<V2> places;
  double widest = 0;
  for (const auto& p : pts) {
    places.push_back(p.at);
    widest = std::max(widest, p.radius);
  }
  const Box box = box_of(places, widest + 2, area_);
  const V3 half_way = unit({-.25, .42, .87});
  for (int y = box.y0; y < box.y1; ++y) {
    for (int x = box.x0; x < box.x1; ++x) {
      const V2 p{x + .5, y + .5};
      double best = -1e9, best_across = 0, best_u = 0, best_r = 1;
      std::size_t best_i = 0;
      for (std::size_t i = 0; i + 1 < pts.size(); ++i) {
        const V2 d = pts[i + 1].at - pts[i].at;
        const double n2 = std::max(dot(d, d), 1e-9);
        const double u = std::clamp(dot(p - pts[i].at, d) / n2, 0.0, 1.0);
        const double r = mix(pts[i].radius, pts[i + 1].radius, u);
        const V2 off = p - (pts[i].at + u * d);
        const double inside = r - length(off);
        if (inside > best) {
          best = inside, best_i = i, best_u = u, best_r = r;
          best_across = (off.x * -d.y + off.y * d.x) / std::sqrt(n2);
        }
      }
      if (best < -.5) continue;
      const V2 d = pts[best_i + 1].at - pts[best_i].at;
      const double n = std::max(length(d), 1e-9);
      const double t = std::clamp(best_across / std::max(best_r, .5), -1.0, 1.0);
      // Image y points down, camera y up.
      const V3 normal = unit({t * -d.y / n, -t * d.x / n, std::sqrt(std::max(0.0, 1 - t * t))});
      V3 colour = mix(pts[best_i].colour, pts[best_i + 1].colour, best_u);
      if (stroke.texture > 0) {
        const auto k = static_cast<float>(90 / px_per_unit_);
        colour =
            (1 + stroke.texture * (noise2(k * static_cast<float>(x), k * static_cast<float>(y), stroke.seed) +
                                   noise2(3 * k * static_cast<float>(x), 3 * k * static_cast<float>(y),
                                          stroke.seed + 1u))) *
            colour;
      }
      V3 radiance = colour * irradiance(normal);
      if (stroke.sheen > 0) {
        const double spec = stroke.sheen * std::pow(std::max(0.0, dot(normal, half_way)), 24);
        radiance = radiance + V3{spec, spec, spec};
      }
      blend(x, y, radiance, std::min(1.0, best + .5) * std::min(1.0, 2 * best_r),
            .25 * colour.x + .6 * colour.y + .15 * colour.z > white_reflectance ? 1 : 0, stroke.part);
    }
  }
}

void Canvas::disc(V2 at, double rx, double ry, V3 radiance, double alpha, Part part) {
  const double r = std::max(rx, ry);
  const Box box = box_of({at}, r + 2, area_);
  for (int y = box.y0; y < box.y1; ++y) {
    for (int x = box.x0; x < box.x1; ++x) {
      const double inside = (1 - std::hypot((x + .5 - at.x) / rx, (y + .5 - at.y) / ry)) * std::min(rx, ry);
      if (inside > -.5) blend(x, y, radiance, alpha * std::min(1.0, inside + .5), 0, part);
    }
  }
}

}  // namespace burstsieve::generate
