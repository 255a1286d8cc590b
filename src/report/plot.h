// Plots as SVG 1.1 text, by ourselves: no script, no font, nothing outside. Colours are those of M. Okabe and
// K. Ito's set for all kinds of colour vision (2008; from memory), and every series has a shape of its own.
// Colours can be overridden by the CSS variables --ink, --soft, --rule, --s0 to --s3 of the page around.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

#include "burstsieve/report/interval.h"

namespace burstsieve::report {

struct PlotPoint {
  bool known = false;
  double value = 0;  // 0..1
  Interval interval;
};

// Shares over settings: a point with its interval for each series above each label.
struct SharePlot {
  std::string what;                         // for who can't see it
  std::string x_title;                      // "shutter speed"
  std::vector<std::string> labels, counts;  // below each place: the setting, the number of frames
  struct Series {
    std::string name;
    std::vector<PlotPoint> points;  // one per label
  };
  std::vector<Series> series;  // at most 4
};
std::string share_plot(const SharePlot& plot);

// One row per cause: its share with interval, and a text at the right.
struct CausePlot {
  std::string what;
  struct Row {
    std::string name, text;
    PlotPoint point;
  };
  std::vector<Row> rows;
};
std::string cause_plot(const CausePlot& plot);

// Frames by headroom in thirds of a stop; what is 0 stands apart, hatched: it is at the clip or beyond.
std::string headroom_plot(const std::vector<double>& ev);

}  // namespace burstsieve::report
