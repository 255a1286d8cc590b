#include "overlay.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "check.h"

namespace burstsieve::subject_check {
namespace {

const cv::Scalar kBlack(0, 0, 0), kWhite(255, 255, 255);

void draw_line(cv::Mat& on, cv::Point2d a, cv::Point2d b, const Style& s) {
  const double length = std::hypot(b.x - a.x, b.y - a.y);
  const auto part = [&](double from, double to, const cv::Scalar& colour, int thick) {
    const cv::Point2d d = length > 0 ? (b - a) * (1 / length) : cv::Point2d();
    cv::line(on, a + d * from, a + d * std::min(to, length), colour, thick, cv::LINE_AA);
  };
  const double step = s.on > 0 ? s.on + s.off : std::max(1.0, length);
  for (double at = 0; at < length; at += step) {
    const double end = s.on > 0 ? at + s.on : length;
    part(at, end, kBlack, s.thick + 2);  // a dark rim, for bright ground
    part(at, end, s.colour, s.thick);
  }
}

void draw_label(cv::Mat& on, const std::string& text, cv::Point at, const Style& s) {
  int below = 0;
  const cv::Size size = cv::getTextSize(text, cv::FONT_HERSHEY_SIMPLEX, .42, 1, &below);
  at.x = std::clamp(at.x, 1, std::max(1, on.cols - size.width - 7));
  at.y = std::clamp(at.y, size.height + 5, std::max(size.height + 5, on.rows - below - 2));
  cv::rectangle(on, {at.x - 1, at.y - size.height - 4}, {at.x + size.width + 5, at.y + below}, kBlack,
                cv::FILLED);
  cv::putText(on, text, {at.x + 2, at.y - 1}, cv::FONT_HERSHEY_SIMPLEX, .42, s.colour, 1, cv::LINE_AA);
}

// corner: 0 upper left, 1 upper right, 2 lower right, 3 lower left; labels of different kinds on one box do
// not hide each other.
void draw_box(cv::Mat& on, const Region& r, const Style& s, int corner, const std::string& text) {
  const double in = s.thick / 2.0;
  const double x0 = r.x * on.cols + in, y0 = r.y * on.rows + in, x1 = r.right() * on.cols - in,
               y1 = r.bottom() * on.rows - in;
  draw_line(on, {x0, y0}, {x1, y0}, s);
  draw_line(on, {x1, y0}, {x1, y1}, s);
  draw_line(on, {x1, y1}, {x0, y1}, s);
  draw_line(on, {x0, y1}, {x0, y0}, s);
  const auto at = [](double v) { return static_cast<int>(std::lround(v)); };
  const bool right = corner == 1 || corner == 2;
  int below = 0;
  const int wide = cv::getTextSize(text, cv::FONT_HERSHEY_SIMPLEX, .42, 1, &below).width + 5;
  draw_label(on, text, {right ? at(x1) - wide : at(x0), corner < 2 ? at(y0) - 4 : at(y1) + 14}, s);
}

}  // namespace

Style style_of_truth() {
  return {"animal", "unbroken, thin", kWhite, 0, 0, 1};
}

Style style_of(const std::string& source) {
  if (source == kFirst) return {"first", "unbroken, thick", {0, 159, 230}, 0, 0, 3};
  if (source == subject::kDetectorSource) return {"detector", "long dashes", {233, 180, 86}, 14, 8, 2};
  if (source == "AF area") return {"focus area", "dots", {167, 121, 204}, 2, 6, 2};
  return {"detail", "short dashes", {115, 158, 0}, 6, 6, 2};
}

std::string css_colour(const Style& s) {
  return fmt::format("#{:02x}{:02x}{:02x}", static_cast<int>(s.colour[2]), static_cast<int>(s.colour[1]),
                     static_cast<int>(s.colour[0]));
}

cv::Mat overlay(const Looked& looked, const std::vector<Region>& truth) {
  cv::Mat out = looked.view.clone();
  if (out.empty()) return out;
  for (const Answer& a : looked.answers) {
    if (a.source == kFused) continue;
    const Style s = style_of(a.source);
    const int corner = a.source == "focus energy" ? 2 : 1;  // the truth has 3, the first subject 0
    for (const Subject& b : a.boxes)
      draw_box(out, b.box, s, corner, fmt::format("{} {:.2f}", s.label, b.confidence));
  }
  const auto& fused = looked.answers.back().boxes;
  if (!fused.empty())
    draw_box(out, fused.front().box, style_of(kFirst), 0,
             fmt::format("first {:.2f}", fused.front().confidence));
  for (const Region& r : truth) draw_box(out, r, style_of_truth(), 3, "animal");
  return out;
}

}  // namespace burstsieve::subject_check
