#include "sheet_pdf.h"

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <array>
#include <memory>
#include <utility>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "words.h"

namespace burstsieve::report {

// Not in a namespace without a name: SheetPdf::State holds them.
struct SheetSize {
  double width, height;
};
struct CairoLetGo {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
  void operator()(PangoLayout* l) const { g_object_unref(l); }
  void operator()(PangoFontDescription* d) const { pango_font_description_free(d); }
};
template <class T>
using CairoHeld = std::unique_ptr<T, CairoLetGo>;

namespace {

// PostScript points, 72 to the inch of 25.4 mm.
constexpr double kMm = 72 / 25.4;
constexpr double kMargin = 12 * kMm, kColumnGap = 6 * kMm, kPictureGap = 1.8 * kMm;
constexpr double kRunningHead = 12, kRunningFoot = 14;
constexpr double kBurstHead = 24, kRowGap = 9;
constexpr int kReasonLines = 4;
constexpr double kNameLine = 12, kPlaceLine = 9, kReasonLine = 9.1;

// ISO 216: 210 x 297 mm. ANSI/ASME Y14.1 size A: 8.5 x 11 in.
SheetSize sheet_of(Paper paper) {
  return paper == Paper::a4 ? SheetSize{210 * kMm, 297 * kMm} : SheetSize{8.5 * 72, 11 * 72};
}

struct Colour {
  double r, g, b;
};
constexpr Colour kBlack{0, 0, 0}, kGrey{.33, .33, .33}, kPale{.75, .75, .75};
constexpr Colour kKeepColour{.07, .40, .35}, kUndecidedColour{.54, .37, .05}, kRejectColour{.52, .25, .30};
constexpr Colour kWhereColour{.04, .37, .66};

struct TextStyle {
  double size = 7;
  bool bold = false;
  Colour colour = kBlack;
  int lines = 1;
  PangoEllipsizeMode ellipsis = PANGO_ELLIPSIZE_END;
  PangoAlignment align = PANGO_ALIGN_LEFT;
};

}  // namespace

struct SheetPdf::State {
  SheetOptions options;
  SheetSink sink;
  std::optional<Error> error;
  CairoHeld<cairo_surface_t> surface;
  CairoHeld<cairo_t> cairo;
  CairoHeld<PangoLayout> layout;
  SheetSize sheet{};
  double y = 0;          // of what comes next
  std::size_t page = 0;  // 0: none begun
  int burst = 0;         // whose frames are being laid out

  double left() const { return kMargin; }
  double right() const { return sheet.width - kMargin; }
  double bottom() const { return sheet.height - kMargin - kRunningFoot; }
  double column() const { return (right() - left() - kColumnGap) / 2; }
  double picture_width() const { return (column() - kPictureGap) / 2; }
  double picture_height() const { return picture_width() * kCropHeight / kCropWidth; }
  double card_height() const {
    return picture_height() + 3 + kNameLine + kPlaceLine + kReasonLines * kReasonLine;
  }

  static cairo_status_t write(void* closure, const unsigned char* data, unsigned length) {
    auto& s = *static_cast<State*>(closure);
    if (s.error) return CAIRO_STATUS_WRITE_ERROR;
    if (auto done = s.sink(Bytes(data, length)); !done) {
      s.error = done.error();
      return CAIRO_STATUS_WRITE_ERROR;
    }
    return CAIRO_STATUS_SUCCESS;
  }

  void ink(Colour c) { cairo_set_source_rgb(cairo.get(), c.r, c.g, c.b); }

  // Never beyond `width` and `style.lines` lines: the rest gives way to an ellipsis. Returns the width drawn.
  double text(double x, double top, double width, const std::string& words, const TextStyle& style) {
    const CairoHeld<PangoFontDescription> font(pango_font_description_new());
    pango_font_description_set_family_static(font.get(), "DejaVu Sans, Sans");
    pango_font_description_set_weight(font.get(), style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font.get(), style.size * PANGO_SCALE);
    pango_layout_set_font_description(layout.get(), font.get());
    pango_layout_set_width(layout.get(), static_cast<int>(std::max(1.0, width) * PANGO_SCALE));
    pango_layout_set_height(layout.get(), -style.lines);
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    pango_layout_set_ellipsize(layout.get(), style.ellipsis);
    pango_layout_set_alignment(layout.get(), style.align);
    const std::string safe = one_line(words);
    pango_layout_set_text(layout.get(), safe.data(),
                          static_cast<int>(std::min<std::size_t>(safe.size(), 4000)));
    ink(style.colour);
    cairo_move_to(cairo.get(), x, top);
    pango_cairo_show_layout(cairo.get(), layout.get());
    PangoRectangle drawn;
    pango_layout_get_extents(layout.get(), nullptr, &drawn);
    return static_cast<double>(drawn.width) / PANGO_SCALE;
  }

  void rule(double at, Colour colour, double width) {
    ink(colour);
    cairo_set_line_width(cairo.get(), width);
    cairo_move_to(cairo.get(), left(), at);
    cairo_line_to(cairo.get(), right(), at);
    cairo_stroke(cairo.get());
  }

  // The feather of the verdict, as on the pages (markup.h): its shape says what its colour repeats.
  void mark(double x, double top, double size, Verdict verdict) {
    cairo_t* c = cairo.get();
    cairo_save(c);
    cairo_translate(c, x, top);
    cairo_scale(c, size / 20, size / 20);
    cairo_set_line_width(c, 1.8);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
    const auto feather = [&](bool half) {
      cairo_new_path(c);
      cairo_move_to(c, 3, 17);
      cairo_curve_to(c, 2, 9, 8, 3, 17, 3);
      if (!half) cairo_curve_to(c, 17, 12, 11, 18, 3, 17);
      cairo_close_path(c);
    };
    ink(verdict == Verdict::keep     ? kKeepColour
        : verdict == Verdict::reject ? kRejectColour
                                     : kUndecidedColour);
    if (verdict != Verdict::reject) {
      feather(verdict == Verdict::undecided);
      cairo_fill(c);
    }
    if (verdict != Verdict::keep) {
      feather(false);
      cairo_stroke(c);
    }
    if (verdict == Verdict::reject) {
      cairo_move_to(c, 4, 5);
      cairo_line_to(c, 16, 16);
      cairo_stroke(c);
    }
    cairo_restore(c);
  }

  // The JPEG as it is, scaled into the box; nobody decodes it here. Gives where it came to lie.
  Region picture(const std::vector<std::uint8_t>& jpeg, int width, int height, double x, double top) {
    if (jpeg.empty() || width <= 0 || height <= 0) return {};
    const double scale = std::min(picture_width() / width, picture_height() / height);
    const double w = scale * width, h = scale * height, at = x + (picture_width() - w) / 2;
    // One grey pixel that carries the JPEG as its other self: should Cairo not take it, a grey box is left.
    const CairoHeld<cairo_surface_t> image(cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1, 1));
    if (cairo_surface_status(image.get()) != CAIRO_STATUS_SUCCESS) return {};
    cairo_surface_flush(image.get());
    unsigned char* pixel = cairo_image_surface_get_data(image.get());
    std::fill(pixel, pixel + 3, static_cast<unsigned char>(0xC0));
    cairo_surface_mark_dirty(image.get());
    auto bytes = std::make_unique<std::vector<std::uint8_t>>(jpeg);
    const auto let_go = [](void* p) { delete static_cast<std::vector<std::uint8_t>*>(p); };
    if (cairo_surface_set_mime_data(image.get(), CAIRO_MIME_TYPE_JPEG, bytes->data(), bytes->size(), let_go,
                                    bytes.get()) != CAIRO_STATUS_SUCCESS)
      return {};
    static_cast<void>(bytes.release());
    cairo_save(cairo.get());
    cairo_translate(cairo.get(), at, top);
    cairo_scale(cairo.get(), w, h);
    cairo_set_source_surface(cairo.get(), image.get(), 0, 0);
    cairo_paint(cairo.get());
    cairo_restore(cairo.get());
    return {at, top, w, h};
  }

  void frame_on(const Region& picture_at, const Region& part) {
    ink(kWhereColour);
    cairo_set_line_width(cairo.get(), .7);
    cairo_rectangle(cairo.get(), picture_at.x + part.x * picture_at.w, picture_at.y + part.y * picture_at.h,
                    part.w * picture_at.w, part.h * picture_at.h);
    cairo_stroke(cairo.get());
  }

  void card(const SheetCard& c, const BurstOutcome& from, double x, double top) {
    const FrameOutcome& f = *c.frame;
    const Region whole = picture(f.facts.thumbnail, c.whole_width, c.whole_height, x, top);
    if (whole.empty())
      text(x, top + picture_height() / 2 - 5, picture_width(), "no picture",
           {7, false, kGrey, 1, PANGO_ELLIPSIZE_END, PANGO_ALIGN_CENTER});
    const double close_x = x + picture_width() + kPictureGap;
    if (!picture(c.crop.jpeg, c.crop.width, c.crop.height, close_x, top).empty() && !whole.empty())
      frame_on(whole, c.place.region);

    double line = top + picture_height() + 3, at = x + 11;
    mark(x, line + .5, 9, f.verdict.verdict);
    std::string verdict = name_of(f.verdict.verdict);
    at += text(at, line, column(), verdict, {8, true}) + 6;
    if (f.verdict.rating)
      at += text(at, line, column(), fmt::format("rating {}", *f.verdict.rating), {8}) + 6;
    text(at, line, x + column() - at, name_on_sheet(f), {8, false, kBlack, 1, PANGO_ELLIPSIZE_MIDDLE});
    line += kNameLine;
    std::string place = place_on_sheet(f, from);
    if (const auto s = settings_on_sheet(f.frame.capture); !s.empty()) place += "  ·  " + s;
    if (!c.crop.jpeg.empty()) place += "  ·  " + crop_on_sheet(c);
    text(x, line, column(), place, {6.3, false, kGrey});
    line += kPlaceLine;
    std::string why = human_on_sheet(f);
    for (const std::string& r : reasons_on_sheet(f)) why += (why.empty() ? "" : "; ") + r;
    text(x, line, column(), why, {7, false, kBlack, kReasonLines});
  }

  void end_page() {
    if (page == 0) return;
    const double foot = sheet.height - kMargin - 8;
    text(left(), foot, 200, fmt::format("burstsieve {}", kVersion), {6.3, false, kGrey});
    text(left(), foot, right() - left(), std::to_string(page),
         {7, false, kGrey, 1, PANGO_ELLIPSIZE_END, PANGO_ALIGN_CENTER});
    cairo_show_page(cairo.get());
  }

  void begin_page() {
    end_page();
    ++page;
    y = kMargin;
    if (page == 1) return;
    text(left(), y - 2, right() - left(), options.title, {6.5, false, kGrey, 1, PANGO_ELLIPSIZE_MIDDLE});
    y += kRunningHead;
  }

  void title_block() {
    begin_page();
    text(left(), y, right() - left(), options.title, {17, true, kBlack, 1, PANGO_ELLIPSIZE_MIDDLE});
    y += 24;
    std::string line = "Contact sheet";
    if (!options.written.empty()) line += "  ·  written " + options.written;
    if (!options.only.empty()) {
      line += "  ·  only";
      for (std::size_t i = 0; i < options.only.size(); ++i)
        line += std::string(i ? ", " : " ") + name_of(options.only[i]);
    }
    text(left(), y, right() - left(), line, {8, false, kGrey});
    y += 15;
    double at = left();
    for (const Verdict v : {Verdict::keep, Verdict::undecided, Verdict::reject}) {
      mark(at, y, 9, v);
      at += 12;
      at += text(at, y - .5, 100, name_of(v), {8}) + 14;
    }
    text(at, y - .5, right() - at,
         "left the whole frame, right the part in the frame drawn there, pixel by pixel", {7, false, kGrey});
    y += 18;
  }

  void burst_head(const SheetBurst& b, bool continued) {
    const Capture& first = b.burst->frames.front().frame.capture;
    rule(y + 3, kPale, .8);
    double at = left();
    at += text(at, y + 7, 160, fmt::format("Burst {}{}", b.burst->number, continued ? ", continued" : ""),
               {9.5, true}) +
          10;
    std::string line = time_on_sheet(first) + "  ·  " + counted(b.burst->frames.size(), "frame", "frames");
    if (b.cards.size() < b.burst->frames.size()) line += fmt::format(", {} of them here", b.cards.size());
    if (!b.burst->camera.empty()) line += "  ·  " + b.burst->camera;
    text(at, y + 8.5, right() - at, line, {7.5, false, kGrey});
    y += kBurstHead;
  }

  void outline(const SheetBurst& b) {
    const std::string name =
        fmt::format("Burst {}  {}", b.burst->number, time_on_sheet(b.burst->frames.front().frame.capture));
    const std::string where = fmt::format("page={} pos=[{:.1f} {:.1f}]", page, left(), y);
    cairo_pdf_surface_add_outline(surface.get(), CAIRO_PDF_OUTLINE_ROOT, name.c_str(), where.c_str(),
                                  static_cast<cairo_pdf_outline_flags_t>(0));
  }
};

SheetPdf::SheetPdf(const SheetOptions& options, SheetSink sink) : state_(std::make_unique<State>()) {
  State& s = *state_;
  s.options = options;
  s.sink = std::move(sink);
  s.sheet = sheet_of(options.paper);
  s.surface.reset(cairo_pdf_surface_create_for_stream(State::write, &s, s.sheet.width, s.sheet.height));
  cairo_pdf_surface_set_metadata(s.surface.get(), CAIRO_PDF_METADATA_TITLE,
                                 ("Contact sheet: " + one_line(options.title)).c_str());
  cairo_pdf_surface_set_metadata(s.surface.get(), CAIRO_PDF_METADATA_CREATOR,
                                 fmt::format("burstsieve {}", kVersion).c_str());
  if (options.written.size() == 16)  // else Cairo takes the clock's
    cairo_pdf_surface_set_metadata(
        s.surface.get(), CAIRO_PDF_METADATA_CREATE_DATE,
        (options.written.substr(0, 10) + "T" + options.written.substr(11) + ":00").c_str());
  s.cairo.reset(cairo_create(s.surface.get()));
  s.layout.reset(pango_cairo_create_layout(s.cairo.get()));
  pango_layout_set_single_paragraph_mode(s.layout.get(), TRUE);
  s.title_block();
}

SheetPdf::~SheetPdf() = default;

void SheetPdf::add(const SheetBurst& b) {
  State& s = *state_;
  if (s.error || b.cards.empty()) return;
  if (s.y + kBurstHead + s.card_height() > s.bottom()) s.begin_page();
  s.outline(b);
  s.burst_head(b, false);
  for (std::size_t i = 0; i < b.cards.size(); i += 2) {
    if (s.y + s.card_height() > s.bottom()) {
      s.begin_page();
      s.burst_head(b, true);
    }
    for (std::size_t k = i; k < std::min(i + 2, b.cards.size()); ++k)
      s.card(b.cards[k], *b.burst, s.left() + (k > i ? s.column() + kColumnGap : 0), s.y);
    s.y += s.card_height() + kRowGap;
  }
}

Status SheetPdf::finish() {
  State& s = *state_;
  s.end_page();
  const cairo_status_t drawn = cairo_status(s.cairo.get());
  cairo_surface_finish(s.surface.get());
  const cairo_status_t written = cairo_surface_status(s.surface.get());
  if (s.error) return *s.error;
  if (drawn != CAIRO_STATUS_SUCCESS || written != CAIRO_STATUS_SUCCESS)
    return Error{Cause::io, "",
                 std::string("the PDF could not be made: ") +
                     cairo_status_to_string(drawn != CAIRO_STATUS_SUCCESS ? drawn : written)};
  return Done{};
}

std::size_t SheetPdf::pages() const {
  return state_->page;
}

}  // namespace burstsieve::report
