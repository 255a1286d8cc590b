#include "sheet_pdf.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "words.h"

namespace burstsieve::report {
namespace {

constexpr double kMm = 72 / 25.4;
constexpr double kMargin = 12 * kMm, kColumnGap = 6 * kMm, kPictureGap = 1.8 * kMm;
constexpr double kRunningHead = 14, kRunningFoot = 16, kBurstHead = 24, kRowGap = 8;
constexpr double kNameLine = 12, kPlaceLine = 9.5;
constexpr double kCropLabel = 130;  // at most: what stays is the name's
constexpr PaperColour kInk{}, kGrey{.33, .33, .33}, kPale{.75, .75, .75}, kWhere{.04, .37, .66};
constexpr TextStyle kWhy{7, false, kInk, 4};

// ISO 216: 210 x 297 mm. ANSI/ASME Y14.1 size A: 8.5 x 11 in.
PaperInfo paper_of(const SheetOptions& o) {
  PaperInfo out;
  out.width = o.paper == Paper::a4 ? 210 * kMm : 8.5 * 72;
  out.height = o.paper == Paper::a4 ? 297 * kMm : 11 * 72;
  out.title = "Contact sheet: " + o.title;
  out.creator = fmt::format("burstsieve {}", kVersion);
  if (o.written.size() == 16) out.created = o.written.substr(0, 10) + "T" + o.written.substr(11) + ":00";
  return out;
}

std::string why_text(const FrameOutcome& f) {
  std::string out = human_on_sheet(f);
  for (const std::string& r : reasons_on_sheet(f)) out += (out.empty() ? "" : "; ") + r;
  return out;
}

}  // namespace

struct SheetPdf::State {
  State(const SheetOptions& chosen, PaperSink sink)
      : options(chosen), info(paper_of(chosen)), paper(info, std::move(sink)) {}

  SheetOptions options;
  PaperInfo info;
  PaperCanvas paper;
  double y = 0;          // of what comes next
  std::size_t page = 0;  // 0: none begun

  double left() const { return kMargin; }
  double wide() const { return info.width - 2 * kMargin; }
  double bottom() const { return info.height - kMargin - kRunningFoot; }
  double column() const { return (wide() - kColumnGap) / 2; }
  double picture_width() const { return (column() - kPictureGap) / 2; }
  double picture_height() const { return picture_width() * kCropHeight / kCropWidth; }

  double card_height(const SheetCard& c) {
    return picture_height() + 3 + kNameLine + kPlaceLine +
           paper.text_height(column(), why_text(*c.frame), kWhy);
  }

  void pictures(const SheetCard& c, double x, double top) {
    const Region whole = paper.picture(c.frame->facts.thumbnail, c.whole_width, c.whole_height,
                                       {x, top, picture_width(), picture_height()});
    if (whole.empty())
      paper.text(x, top + picture_height() / 2 - 5, picture_width(), "no picture",
                 {7, false, kGrey, 1, TextStyle::at_end, TextStyle::centre});
    const Region close =
        paper.picture(c.crop.jpeg, c.crop.width, c.crop.height,
                      {x + picture_width() + kPictureGap, top, picture_width(), picture_height()});
    if (close.empty() || whole.empty()) return;
    const Region& part = c.place.region;
    paper.box({whole.x + part.x * whole.w, whole.y + part.y * whole.h, part.w * whole.w, part.h * whole.h},
              kWhere, .7);
  }

  void card(const SheetCard& c, const BurstOutcome& from, double x, double top) {
    pictures(c, x, top);
    const FrameOutcome& f = *c.frame;
    double line = top + picture_height() + 3, at = x + 11;
    paper.mark(x, line + .5, 9, f.verdict.verdict);
    at += paper.text(at, line, column(), name_of(f.verdict.verdict), {8, true}) + 6;
    if (f.verdict.rating.value_or(0) > 0)
      at += paper.text(at, line, column(), fmt::format("rating {}", *f.verdict.rating), {8}) + 6;
    double name_end = x + column();
    if (!c.crop.jpeg.empty()) {
      const double width = paper.text(x + column() - kCropLabel, line + 1.2, kCropLabel, crop_on_sheet(c),
                                      {6.3, false, kGrey, 1, TextStyle::at_end, TextStyle::right});
      name_end -= width + 6;
    }
    paper.text(at, line, name_end - at, name_on_sheet(f), {8, false, kInk, 1, TextStyle::in_middle});
    line += kNameLine;
    std::string place = place_on_sheet(f, from);
    if (const auto s = settings_on_sheet(f.frame.capture); !s.empty()) place += "  ·  " + s;
    paper.text(x, line, column(), place, {6.3, false, kGrey});
    paper.text(x, line + kPlaceLine, column(), why_text(f), kWhy);
  }

  void end_page() {
    if (page == 0) return;
    const double foot = info.height - kMargin - 8;
    paper.text(left(), foot, 200, info.creator, {6.3, false, kGrey});
    paper.text(left(), foot, wide(), std::to_string(page),
               {7, false, kGrey, 1, TextStyle::at_end, TextStyle::centre});
    paper.end_page();
  }

  void begin_page() {
    end_page();
    ++page;
    y = kMargin;
    if (page == 1) return;
    paper.text(left(), y - 2, wide(), options.title, {6.5, false, kGrey, 1, TextStyle::in_middle});
    y += kRunningHead;
  }

  void title_block() {
    begin_page();
    paper.text(left(), y, wide(), options.title, {17, true, kInk, 1, TextStyle::in_middle});
    y += 25;
    std::string line = "Contact sheet";
    if (!options.written.empty()) line += "  ·  written " + options.written;
    if (!options.only.empty()) {
      line += "  ·  only";
      for (std::size_t i = 0; i < options.only.size(); ++i)
        line += std::string(i ? ", " : " ") + name_of(options.only[i]);
    }
    paper.text(left(), y, wide(), line, {8, false, kGrey});
    y += 16;
    double at = left();
    for (const Verdict v : {Verdict::keep, Verdict::undecided, Verdict::reject}) {
      paper.mark(at, y, 9, v);
      at += 12;
      at += paper.text(at, y - .5, 100, name_of(v), {8}) + 14;
    }
    paper.text(at, y + .4, left() + wide() - at,
               "left the whole frame, right the part marked in it, pixel by pixel", {7, false, kGrey});
    y += 18;
  }

  void burst_head(const SheetBurst& b, bool continued) {
    const Capture& first = b.burst->frames.front().frame.capture;
    paper.rule(left(), y + 3, wide(), kPale, .8);
    double at = left();
    at +=
        paper.text(at, y + 7, 160, fmt::format("Burst {}{}", b.burst->number, continued ? ", continued" : ""),
                   {9.5, true}) +
        10;
    std::string line = time_on_sheet(first) + "  ·  " + counted(b.burst->frames.size(), "frame", "frames");
    if (b.cards.size() < b.burst->frames.size()) line += fmt::format(", {} of them here", b.cards.size());
    if (!b.burst->camera.empty()) line += "  ·  " + b.burst->camera;
    paper.text(at, y + 8.6, left() + wide() - at, line, {7.5, false, kGrey});
    y += kBurstHead;
  }
};

SheetPdf::SheetPdf(const SheetOptions& options, PaperSink sink)
    : state_(std::make_unique<State>(options, std::move(sink))) {
  state_->title_block();
}

SheetPdf::~SheetPdf() = default;

void SheetPdf::add(const SheetBurst& b) {
  State& s = *state_;
  for (std::size_t i = 0; i < b.cards.size(); i += 2) {
    const std::size_t end = std::min(i + 2, b.cards.size());
    double height = 0;
    for (std::size_t k = i; k < end; ++k) height = std::max(height, s.card_height(b.cards[k]));
    const bool turn = s.y + height + (i == 0 ? kBurstHead : 0) > s.bottom();
    if (turn) s.begin_page();
    if (i == 0)
      s.paper.bookmark(
          fmt::format("Burst {}  {}", b.burst->number, time_on_sheet(b.burst->frames.front().frame.capture)),
          s.page, s.left(), s.y);
    if (i == 0 || turn) s.burst_head(b, i > 0);
    for (std::size_t k = i; k < end; ++k)
      s.card(b.cards[k], *b.burst, s.left() + (k > i ? s.column() + kColumnGap : 0), s.y);
    s.y += height + kRowGap;
  }
}

Status SheetPdf::finish() {
  state_->end_page();
  return state_->paper.finish();
}

std::size_t SheetPdf::pages() const {
  return state_->page;
}

}  // namespace burstsieve::report
