#include "plot.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "markup.h"

namespace burstsieve::report {
namespace {

constexpr std::array<const char*, 4> kColours{"var(--s0,#0072b2)", "var(--s1,#d55e00)", "var(--s2,#009e73)",
                                              "var(--s3,#6b4c7d)"};
constexpr const char* kInk = "var(--ink,#22303a)";
constexpr const char* kSoft = "var(--soft,#5b6a74)";
constexpr const char* kRule = "var(--rule,#d9d5ca)";

std::string svg_open(double width, double height, const std::string& what) {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"plot\" viewBox=\"0 0 {0:.0f} {1:.0f}\" "
      "width=\"{0:.0f}\" "
      "height=\"{1:.0f}\" role=\"img\" aria-label=\"{2}\" font-family=\"system-ui,sans-serif\" "
      "font-size=\"13\">\n",
      width, height, html(what));
}

std::string svg_text(double x, double y, const char* anchor, const char* colour, const std::string& text,
                     const std::string& more = "") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\" style=\"fill:{}\"{}>{}</text>\n", x,
                     y, anchor, colour, more, html(text));
}

std::string svg_line(double x1, double y1, double x2, double y2, const char* colour, double width) {
  return fmt::format(
      "<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" style=\"stroke:{};stroke-width:{}\"/>\n",
      x1, y1, x2, y2, colour, width);
}

// Circle, square, triangle, diamond: full, so that they stand out on their interval.
std::string svg_marker(std::size_t series, double x, double y) {
  const char* colour = kColours[series % kColours.size()];
  std::string points;
  switch (series % 4) {
    case 0:
      return fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4.5\" style=\"fill:{}\"/>\n", x, y, colour);
    case 1:
      return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"8\" height=\"8\" style=\"fill:{}\"/>\n",
                         x - 4, y - 4, colour);
    case 2:
      points = fmt::format("{:.1f},{:.1f} {:.1f},{:.1f} {:.1f},{:.1f}", x, y - 5.2, x + 5.2, y + 4.2, x - 5.2,
                           y + 4.2);
      break;
    default:
      points = fmt::format("{:.1f},{:.1f} {:.1f},{:.1f} {:.1f},{:.1f} {:.1f},{:.1f}", x, y - 6, x + 6, y, x,
                           y + 6, x - 6, y);
  }
  return fmt::format("<polygon points=\"{}\" style=\"fill:{}\"/>\n", points, colour);
}

// The end of the axis: enough for the highest interval that is not a guess from next to nothing.
double axis_end(double highest) {
  for (const double end : {.1, .25, .5})
    if (highest <= end) return end;
  return 1;
}

std::string axis_percent(double share) {
  return fmt::format("{:.0f} %", 100 * share);
}

// "1/1600 to 1/2500 s" as two lines.
std::pair<std::string, std::string> two_lines(const std::string& label) {
  const auto at = label.find(" to ");
  if (at == std::string::npos) return {label, ""};
  return {label.substr(0, at), label.substr(at + 1)};
}

// The number of divisions that gives round steps: .25 by fifths, the others by quarters or fifths.
int divisions(double end) {
  return end == .5 || end == .1 ? 5 : end == .25 ? 5 : 4;
}

}  // namespace

std::string share_plot(const SharePlot& p) {
  const double left = 68, top = 34, plot_height = 220, place = 96;
  const double width = std::max(420.0, place * static_cast<double>(p.labels.size())), right = left + width;
  const double bottom = top + plot_height;
  double highest = .05;
  for (const auto& s : p.series)
    for (const PlotPoint& q : s.points)
      if (q.known) highest = std::max(highest, q.interval.high);
  const double end = axis_end(highest);
  const auto y_of = [&](double share) { return bottom - plot_height * std::min(1.0, share / end); };
  std::string out = svg_open(right + 14, bottom + 82, p.what);
  for (int i = 0; i <= divisions(end); ++i) {
    const double share = end * i / divisions(end);
    out += svg_line(left, y_of(share), right, y_of(share), kRule, i == 0 ? 1.5 : 1);
    out += svg_text(left - 8, y_of(share) + 4.5, "end", kSoft, axis_percent(share));
  }
  const double step = width / static_cast<double>(std::max<std::size_t>(1, p.labels.size()));
  for (std::size_t i = 0; i < p.labels.size(); ++i) {
    const double x = left + step * (static_cast<double>(i) + .5);
    const auto [first, second] = two_lines(p.labels[i]);
    out += svg_text(x, bottom + 18, "middle", kInk, first);
    if (!second.empty()) out += svg_text(x, bottom + 33, "middle", kInk, second);
    out += svg_text(x, bottom + 50, "middle", kSoft, p.counts[i]);
  }
  out += svg_text(left + width / 2, bottom + 74, "middle", kSoft, p.x_title);
  out += svg_text(14, top + plot_height / 2, "middle", kSoft, "share of frames lost",
                  fmt::format(" transform=\"rotate(-90 14 {:.1f})\"", top + plot_height / 2));
  const double spread = 18, first_offset = -spread * (static_cast<double>(p.series.size()) - 1) / 2;
  double legend = left;
  for (std::size_t s = 0; s < p.series.size(); ++s) {
    const char* colour = kColours[s % kColours.size()];
    out += svg_marker(s, legend + 6, 14);
    out += svg_text(legend + 17, 18.5, "start", kInk, p.series[s].name);
    legend += 40 + 7.2 * static_cast<double>(p.series[s].name.size());
    std::string path;
    std::string points;
    for (std::size_t i = 0; i < p.series[s].points.size(); ++i) {
      const PlotPoint& q = p.series[s].points[i];
      if (!q.known) continue;
      const double x =
          left + step * (static_cast<double>(i) + .5) + first_offset + spread * static_cast<double>(s);
      const double low = y_of(q.interval.low), high = y_of(q.interval.high);
      path += fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", x, y_of(q.value));
      points += svg_line(x, low, x, high, colour, 2) + svg_line(x - 4, low, x + 4, low, colour, 2) +
                svg_line(x - 4, high, x + 4, high, colour, 2) + svg_marker(s, x, y_of(q.value));
    }
    if (!path.empty())
      out += fmt::format("<path d=\"{}\" style=\"fill:none;stroke:{};stroke-width:1;stroke-opacity:.35\"/>\n",
                         path, colour);
    out += points;
  }
  return out + "</svg>\n";
}

std::string cause_plot(const CausePlot& p) {
  const double left = 190, width = 380, row = 28, top = 8;
  const double bottom = top + row * static_cast<double>(p.rows.size());
  double highest = .05;
  for (const auto& r : p.rows)
    if (r.point.known) highest = std::max(highest, r.point.interval.high);
  const double end = axis_end(highest);
  const auto x_of = [&](double share) { return left + width * std::min(1.0, share / end); };
  std::string out = svg_open(left + width + 130, bottom + 46, p.what);
  for (int i = 0; i <= divisions(end); ++i) {
    const double share = end * i / divisions(end);
    out += svg_line(x_of(share), top, x_of(share), bottom, kRule, i == 0 ? 1.5 : 1);
    out += svg_text(x_of(share), bottom + 18, "middle", kSoft, axis_percent(share));
  }
  out += svg_text(left + width / 2, bottom + 38, "middle", kSoft, "share of frames lost");
  for (std::size_t i = 0; i < p.rows.size(); ++i) {
    const auto& r = p.rows[i];
    const double y = top + row * (static_cast<double>(i) + .5);
    out += svg_text(left - 12, y + 4.5, "end", kInk, r.name);
    out += svg_text(left + width + 14, y + 4.5, "start", kSoft, r.text);
    if (!r.point.known) continue;
    const double low = x_of(r.point.interval.low), high = x_of(r.point.interval.high);
    out += svg_line(low, y, high, y, kColours[0], 2) + svg_line(low, y - 4, low, y + 4, kColours[0], 2) +
           svg_line(high, y - 4, high, y + 4, kColours[0], 2) + svg_marker(0, x_of(r.point.value), y);
  }
  return out + "</svg>\n";
}

std::string headroom_plot(const std::vector<double>& ev) {
  constexpr std::size_t kThirds = 12;  // to 4 EV; the last takes what is beyond
  std::array<int, kThirds + 1> count{};
  for (const double v : ev) {
    if (!(v > 0)) {
      ++count[0];
      continue;
    }
    ++count[1 + std::min<std::size_t>(kThirds - 1, static_cast<std::size_t>(v * 3))];
  }
  const int most = std::max(1, *std::max_element(count.begin(), count.end()));
  const double left = 56, top = 22, height = 160, bar = 44, gap = 34, bottom = top + height;
  const double right = left + gap + bar * (kThirds + 1);
  std::string out = svg_open(right + 38, bottom + 48, "frames by headroom of their white plumage");
  out +=
      "<defs><pattern id=\"over\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(45)\"><rect width=\"3\" height=\"6\" "
      "style=\"fill:var(--s1,#d55e00)\"/></pattern>"
      "</defs>\n";
  out += svg_line(left, bottom, right, bottom, kRule, 1.5);
  for (std::size_t i = 0; i <= kThirds; ++i) {
    const double x = left + bar * static_cast<double>(i) + (i ? gap : 0), h = height * count[i] / most;
    if (count[i]) {
      out += fmt::format(
          "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" "
          "style=\"fill:{};stroke:{}\"/>\n",
          x + 3, bottom - h, bar - 6, h, i ? kColours[0] : "url(#over)", i ? kColours[0] : kColours[1]);
      out += svg_text(x + bar / 2, bottom - h - 5, "middle", kSoft, std::to_string(count[i]));
    }
    if (i == 0) out += svg_text(x + bar / 2, bottom + 18, "middle", kInk, "clipped");
    if (i % 3 == 1) out += svg_text(x, bottom + 18, "middle", kInk, fmt::format("{} EV", i / 3));
    if (i == kThirds) out += svg_text(x + bar, bottom + 18, "middle", kInk, "4 or more");
  }
  out += svg_text(left + (right - left) / 2, bottom + 40, "middle", kSoft,
                  "headroom of the white plumage, stops to the clip of its second channel");
  out += svg_text(14, top + height / 2, "middle", kSoft, "frames",
                  fmt::format(" transform=\"rotate(-90 14 {:.1f})\"", top + height / 2));
  return out + "</svg>\n";
}

}  // namespace burstsieve::report
