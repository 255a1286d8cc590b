#include "paper_canvas.h"

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::report {

// Not in a namespace without a name: PaperCanvas::State holds them.
struct CairoLetGo {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
  void operator()(PangoLayout* l) const { g_object_unref(l); }
  void operator()(PangoFontDescription* d) const { pango_font_description_free(d); }
};
template <class T>
using CairoHeld = std::unique_ptr<T, CairoLetGo>;

namespace {

// A name of 255 bytes and a reason around it; Pango's time grows faster than the text.
constexpr std::size_t kLongestText = 4000;

PaperColour colour_of(Verdict verdict) {
  if (verdict == Verdict::keep) return {.07, .40, .35};
  return verdict == Verdict::reject ? PaperColour{.52, .25, .30} : PaperColour{.54, .37, .05};
}

}  // namespace

struct PaperCanvas::State {
  PaperSink sink;
  std::optional<Error> error;
  CairoHeld<cairo_surface_t> surface;
  CairoHeld<cairo_t> cairo;
  CairoHeld<PangoLayout> layout;

  static cairo_status_t write(void* closure, const unsigned char* data, unsigned length) {
    auto& s = *static_cast<State*>(closure);
    if (s.error) return CAIRO_STATUS_WRITE_ERROR;
    const auto done = s.sink(Bytes(data, length));
    if (done) return CAIRO_STATUS_SUCCESS;
    s.error = done.error();
    return CAIRO_STATUS_WRITE_ERROR;
  }

  void ink(const PaperColour& c) { cairo_set_source_rgb(cairo.get(), c.r, c.g, c.b); }

  void set_text(double width, const std::string& words, const TextStyle& style) {
    const CairoHeld<PangoFontDescription> font(pango_font_description_new());
    pango_font_description_set_family_static(font.get(), "DejaVu Sans, Sans");
    pango_font_description_set_weight(font.get(), style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font.get(), style.size * PANGO_SCALE);
    PangoLayout* l = layout.get();
    pango_layout_set_font_description(l, font.get());
    pango_layout_set_width(l, static_cast<int>(std::max(1.0, width) * PANGO_SCALE));
    pango_layout_set_height(l, -style.lines);
    pango_layout_set_wrap(l, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_ellipsize(
        l, style.ellipsis == TextStyle::at_end ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_MIDDLE);
    pango_layout_set_alignment(l, style.align == TextStyle::left     ? PANGO_ALIGN_LEFT
                                  : style.align == TextStyle::centre ? PANGO_ALIGN_CENTER
                                                                     : PANGO_ALIGN_RIGHT);
    // Cut before it is made valid: a character cut in half is escaped with the rest.
    const std::string safe = one_line(std::string_view(words).substr(0, kLongestText));
    pango_layout_set_text(l, safe.data(), static_cast<int>(safe.size()));
  }
};

PaperCanvas::PaperCanvas(const PaperInfo& info, PaperSink sink) : state_(std::make_unique<State>()) {
  State& s = *state_;
  s.sink = std::move(sink);
  s.surface.reset(cairo_pdf_surface_create_for_stream(State::write, &s, info.width, info.height));
  const auto say = [&](cairo_pdf_metadata_t what, const std::string& text) {
    if (!text.empty()) cairo_pdf_surface_set_metadata(s.surface.get(), what, one_line(text).c_str());
  };
  say(CAIRO_PDF_METADATA_TITLE, info.title);
  say(CAIRO_PDF_METADATA_CREATOR, info.creator);
  say(CAIRO_PDF_METADATA_CREATE_DATE, info.created);
  s.cairo.reset(cairo_create(s.surface.get()));
  s.layout.reset(pango_cairo_create_layout(s.cairo.get()));
  pango_layout_set_single_paragraph_mode(s.layout.get(), TRUE);
  // Paper has points enough: letters stand where they belong, not on a screen's pixels.
  PangoContext* context = pango_layout_get_context(s.layout.get());
  pango_context_set_round_glyph_positions(context, FALSE);
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(context, options);
  cairo_font_options_destroy(options);
  // A hyphen at the end of a line would be taken for a part of the name that is broken there.
  PangoAttrList* plain = pango_attr_list_new();
  pango_attr_list_insert(plain, pango_attr_insert_hyphens_new(FALSE));
  pango_layout_set_attributes(s.layout.get(), plain);
  pango_attr_list_unref(plain);
  pango_layout_set_auto_dir(s.layout.get(),
                            FALSE);  // the sheet reads from left to right, whatever a name does
}

PaperCanvas::~PaperCanvas() = default;

double PaperCanvas::text(double x, double top, double width, const std::string& words,
                         const TextStyle& style) {
  State& s = *state_;
  s.set_text(width, words, style);
  s.ink(style.colour);
  cairo_move_to(s.cairo.get(), x, top);
  pango_cairo_show_layout(s.cairo.get(), s.layout.get());
  PangoRectangle drawn;
  pango_layout_get_extents(s.layout.get(), nullptr, &drawn);
  return static_cast<double>(drawn.width) / PANGO_SCALE;
}

double PaperCanvas::text_height(double width, const std::string& words, const TextStyle& style) {
  state_->set_text(width, words, style);
  PangoRectangle drawn;
  pango_layout_get_extents(state_->layout.get(), nullptr, &drawn);
  return static_cast<double>(drawn.height) / PANGO_SCALE;
}

void PaperCanvas::rule(double x, double y, double width, const PaperColour& colour, double weight) {
  cairo_t* c = state_->cairo.get();
  state_->ink(colour);
  cairo_set_line_width(c, weight);
  cairo_move_to(c, x, y);
  cairo_line_to(c, x + width, y);
  cairo_stroke(c);
}

void PaperCanvas::box(const Region& where, const PaperColour& colour, double weight) {
  cairo_t* c = state_->cairo.get();
  state_->ink(colour);
  cairo_set_line_width(c, weight);
  cairo_rectangle(c, where.x, where.y, where.w, where.h);
  cairo_stroke(c);
}

void PaperCanvas::mark(double x, double top, double size, Verdict verdict) {
  cairo_t* c = state_->cairo.get();
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
  state_->ink(colour_of(verdict));
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

Region PaperCanvas::picture(const std::vector<std::uint8_t>& jpeg, int width, int height, const Region& box) {
  if (jpeg.empty() || width <= 0 || height <= 0) return {};
  const double scale = std::min(box.w / width, box.h / height);
  const Region at{box.x + (box.w - scale * width) / 2, box.y, scale * width, scale * height};
  // One grey pixel that carries the JPEG as its other self: should Cairo not take it, a grey box is left.
  const CairoHeld<cairo_surface_t> image(cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1, 1));
  if (cairo_surface_status(image.get()) != CAIRO_STATUS_SUCCESS) return {};
  unsigned char* pixel = cairo_image_surface_get_data(image.get());
  std::fill(pixel, pixel + 3, static_cast<unsigned char>(0xC0));
  cairo_surface_mark_dirty(image.get());
  auto bytes = std::make_unique<std::vector<std::uint8_t>>(jpeg);
  const auto let_go = [](void* p) { delete static_cast<std::vector<std::uint8_t>*>(p); };
  if (cairo_surface_set_mime_data(image.get(), CAIRO_MIME_TYPE_JPEG, bytes->data(), bytes->size(), let_go,
                                  bytes.get()) != CAIRO_STATUS_SUCCESS)
    return {};
  static_cast<void>(bytes.release());  // the surface lets it go
  cairo_t* c = state_->cairo.get();
  cairo_save(c);
  cairo_translate(c, at.x, at.y);
  cairo_scale(c, at.w, at.h);
  cairo_set_source_surface(c, image.get(), 0, 0);
  cairo_paint(c);
  cairo_restore(c);
  return at;
}

void PaperCanvas::bookmark(const std::string& name, std::size_t page, double x, double y) {
  const std::string where = fmt::format("page={} pos=[{:.1f} {:.1f}]", page, x, y);
  cairo_pdf_surface_add_outline(state_->surface.get(), CAIRO_PDF_OUTLINE_ROOT, one_line(name).c_str(),
                                where.c_str(), static_cast<cairo_pdf_outline_flags_t>(0));
}

void PaperCanvas::end_page() {
  cairo_show_page(state_->cairo.get());
}

Status PaperCanvas::finish() {
  State& s = *state_;
  const cairo_status_t drawn = cairo_status(s.cairo.get());
  cairo_surface_finish(s.surface.get());
  const cairo_status_t written = cairo_surface_status(s.surface.get());
  if (s.error) return *s.error;
  const cairo_status_t worse = drawn != CAIRO_STATUS_SUCCESS ? drawn : written;
  if (worse == CAIRO_STATUS_SUCCESS) return Done{};
  return Error{Cause::io, "", std::string("the PDF could not be made: ") + cairo_status_to_string(worse)};
}

}  // namespace burstsieve::report
