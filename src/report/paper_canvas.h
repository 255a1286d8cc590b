// Paper to draw on, as a PDF that is handed over as it grows. The only place that knows Cairo and Pango;
// their types stay in the .cpp. Lengths in PostScript points (1/72 inch), y downwards.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/region.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve::report {

using PaperSink = std::function<Status(Bytes)>;

struct PaperColour {
  double r = 0, g = 0, b = 0;  // 0..1
};

struct TextStyle {
  double size = 7;
  bool bold = false;
  PaperColour colour{};
  int lines = 1;  // at most; the rest gives way to an ellipsis
  enum { at_end, in_middle } ellipsis = at_end;
  enum { left, centre, right } align = left;
};

struct PaperInfo {
  double width = 0, height = 0;
  std::string title, creator;
  std::string created;  // "2026-11-25T21:34:00"; empty: now
};

class PaperCanvas {
 public:
  PaperCanvas(const PaperInfo& info, PaperSink sink);
  PaperCanvas(const PaperCanvas&) = delete;
  PaperCanvas& operator=(const PaperCanvas&) = delete;
  ~PaperCanvas();

  // Any text, made one line and valid first; shaped and, where it is too long, cut to the width and lines
  // given. Gives the width drawn.
  double text(double x, double top, double width, const std::string& words, const TextStyle& style);
  // The height that it would take.
  double text_height(double width, const std::string& words, const TextStyle& style);
  void rule(double x, double y, double width, const PaperColour& colour, double weight);
  void box(const Region& where, const PaperColour& colour, double weight);
  // The feather of a verdict as on the pages (markup.h): its shape says what its colour repeats.
  void mark(double x, double top, double size, Verdict verdict);
  // The JPEG's bytes as they are, scaled into the box; nobody decodes them here. Gives where it came to lie.
  Region picture(const std::vector<std::uint8_t>& jpeg, int width, int height, const Region& box);
  // A bookmark to a place on the page in the making.
  void bookmark(const std::string& name, std::size_t page, double x, double y);
  void end_page();
  // The first error of the sink, or of drawing.
  Status finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace burstsieve::report
