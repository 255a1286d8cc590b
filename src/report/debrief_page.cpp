#include <fmt/format.h>

#include "burstsieve/base/version.h"
#include "debrief_parts.h"
#include "markup.h"
#include "plot.h"
#include "words.h"

namespace burstsieve::report {
namespace {

constexpr const char* kDebriefStyle =
    R"css(:root{color-scheme:light dark;--paper:#f6f4ef;--card:#fff;--ink:#22303a;--soft:#5b6a74;--rule:#d9d5ca;
--s0:#0072b2;--s1:#d55e00;--s2:#009e73}
@media(prefers-color-scheme:dark){:root{--paper:#161d22;--card:#1f282f;--ink:#e4e8e6;--soft:#9fb0b8;--rule:#35424b;
--s0:#56b4e9;--s1:#e69f00;--s2:#3fc79a}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif}
main{max-width:60rem;margin:0 auto;padding:2rem 1.25rem 3rem}
h1{font-size:1.7rem;font-weight:600;margin:0;overflow-wrap:anywhere}
h2{font-size:1.1rem;font-weight:600;margin:2.4rem 0 .6rem}
p{margin:.5rem 0}
.soft{color:var(--soft)}
.advice{margin:0;padding:0;list-style:none}
.advice li{background:var(--card);border:1px solid var(--rule);border-left:4px solid var(--s0);border-radius:.3rem;
padding:.7rem .95rem;margin:.6rem 0;max-width:46rem}
.wide{overflow-x:auto}
.plot{display:block;max-width:none;background:var(--card);border:1px solid var(--rule);border-radius:.3rem;padding:.4rem}
table{border-collapse:collapse;font-size:.9rem;font-variant-numeric:tabular-nums;margin-top:.7rem}
th,td{text-align:right;padding:.3rem .8rem .3rem 0;border-bottom:1px solid var(--rule);white-space:nowrap}
th{font-weight:500;color:var(--soft)}
th:first-child,td:first-child{text-align:left}
footer{margin-top:2.5rem;border-top:1px solid var(--rule);padding-top:.9rem;font-size:.86rem;max-width:46rem}
code{font-family:ui-monospace,monospace;font-size:.92em}
@media print{@page{margin:14mm}body{background:#fff;font-size:10.5pt}main{padding:0;max-width:none}section{break-inside:avoid}
.plot{max-width:100%;height:auto}}
)css";

PlotPoint point_of(const Share& s) {
  return {s.asked > 0, s.value(), s.interval};
}

std::string causes_section(const Debrief& d) {
  CausePlot plot;
  plot.what = "share of frames lost to each cause";
  for (std::size_t c = 0; c < kCosts; ++c) {
    const Share& s = d.all[c];
    plot.rows.push_back({name_of(static_cast<Cost>(c)),
                         s.asked ? fmt::format("{} of {}", s.lost, s.asked) : "not looked for", point_of(s)});
  }
  return "<section><h2>What cost frames</h2>\n<div class=\"wide\">" + cause_plot(plot) + "</div></section>\n";
}

std::string bins_table(const SettingBins& in) {
  std::string out = fmt::format("<div class=\"wide\"><table>\n<tr><th>{}</th><th>frames</th><th>bursts</th>",
                                name_of(in.setting));
  const auto causes = shown_with(in.setting);
  for (const Cost c : causes) out += fmt::format("<th>{}</th>", name_of(c));
  out += "</tr>\n";
  for (const DebriefBin& b : in.bins) {
    out += fmt::format("<tr><td>{}</td><td>{}</td><td>{}</td>", html(b.label), b.frames, b.bursts);
    for (const Cost c : causes) {
      const Share& s = b.shares[static_cast<std::size_t>(c)];
      out += s.asked ? fmt::format("<td>{} ({} of {})</td>", percent_text(s.value()), s.lost, s.asked)
                     : "<td>–</td>";
    }
    out += "</tr>\n";
  }
  return out + "</table></div>\n";
}

std::string setting_section(const SettingBins& in) {
  std::string out = fmt::format("<section><h2>By {}</h2>\n", name_of(in.setting));
  if (in.bins.empty()) return out + "<p class=\"soft\">No file states it.</p></section>\n";
  if (in.bins.size() > 1) {
    SharePlot plot;
    plot.what = fmt::format("share of frames lost by {}", name_of(in.setting));
    plot.x_title = name_of(in.setting);
    for (const DebriefBin& b : in.bins) {
      plot.labels.push_back(b.label);
      plot.counts.push_back(counted(b.frames, "frame", "frames"));
    }
    for (const Cost c : shown_with(in.setting)) {
      SharePlot::Series series{name_of(c), {}};
      for (const DebriefBin& b : in.bins)
        series.points.push_back(point_of(b.shares[static_cast<std::size_t>(c)]));
      plot.series.push_back(std::move(series));
    }
    out += "<div class=\"wide\">" + share_plot(plot) + "</div>\n";
  } else {
    out += fmt::format("<p class=\"soft\">All frames at one: {}.</p>\n", html(in.bins.front().label));
  }
  out += bins_table(in);
  if (in.unknown)
    out += fmt::format("<p class=\"soft\">{} without it.</p>\n", counted(in.unknown, "frame", "frames"));
  return out + "</section>\n";
}

std::string whites_section(const Debrief& d) {
  if (d.headroom_ev.empty()) return "";
  return fmt::format(
      "<section><h2>Exposure of white plumage</h2>\n<div class=\"wide\">{}</div>\n<p "
      "class=\"soft\">{}</p></section>\n",
      headroom_plot(d.headroom_ev),
      d.headroom_from_sensor
          ? "From the raw sensor values."
          : "As rendered by the camera; the sensor holds more than the picture shows, up to a stop or so.");
}

std::string light_section(const Debrief& d) {
  if (d.light.empty()) return "";
  std::string out = "<section><h2>Light</h2>\n";
  for (const LightDrift& l : d.light) out += fmt::format("<p>{}</p>\n", html(drift_text(l)));
  return out + "</section>\n";
}

}  // namespace

std::string debrief_page(const Debrief& d, const std::string& title) {
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\">\n"
      "<meta name=\"generator\" content=\"burstsieve\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  out += fmt::format(
      "<title>Debrief: {0}</title>\n<style>\n{1}</style></head>\n<body><main>\n<header><p "
      "class=\"soft\">Debrief</p>\n<h1>{0}</h1>\n<p class=\"soft\">{2}; {3} keep, {4} undecided, {5} "
      "reject{6}</p></header>\n",
      html(title), kDebriefStyle, html(headline(d)), d.keep, d.undecided, d.reject,
      d.measured < d.frames ? fmt::format("; {} could not be measured", d.frames - d.measured) : "");
  out += "<section><h2>Next time</h2>\n";
  if (d.advice.empty()) out += fmt::format("<p class=\"soft\">{}</p>\n", kNoAdvice);
  if (!d.advice.empty()) {
    out += "<ul class=\"advice\">\n";
    for (const Advice& a : d.advice) out += fmt::format("<li>{}</li>\n", html(a.text));
    out += "</ul>\n";
  }
  out += "</section>\n" + causes_section(d);
  for (const SettingBins& s : d.settings) out += setting_section(s);
  out += whites_section(d) + light_section(d);
  out += fmt::format(
      "<footer class=\"soft\"><p>A frame counts as lost to a cause when its verdict names that fault beyond "
      "the limit "
      "and the fault is rather true than not, whatever became of the frame. Bars are 95 % intervals "
      "(Wilson), "
      "widened because frames of one burst are alike. What goes together here need not be cause and effect: "
      "different birds may have met different settings.</p>\n<p>No picture is worth a nest: keep your "
      "distance, and "
      "follow the local wildlife rules.</p>\n<p>burstsieve {}</p></footer>\n",
      kVersion);
  return out + "</main></body></html>\n";
}

std::string debrief_page(const std::vector<BurstOutcome>& bursts, const std::string& title) {
  return debrief_page(debrief(bursts), title);
}

}  // namespace burstsieve::report
