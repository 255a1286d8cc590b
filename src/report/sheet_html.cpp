#include <fmt/format.h>

#include <cctype>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "markup.h"
#include "sheet_parts.h"
#include "words.h"

namespace burstsieve::report {
namespace {

// Neutral greys: colour around a picture changes how its colour looks. Verdict colours never stand alone.
constexpr const char* kSheetStyle =
    R"css(:root{color-scheme:light dark;--paper:#e9e9e8;--card:#f7f7f6;--ink:#202224;--soft:#5c6166;--rule:#c9cacb;
--keep:#12665a;--undecided:#8a5f0d;--reject:#85404c;--frame:#0a5fa8}
@media(prefers-color-scheme:dark){:root{--paper:#1b1c1d;--card:#262728;--ink:#e6e6e5;--soft:#a5a9ac;--rule:#3b3d3f;
--keep:#63c3ae;--undecided:#dcae57;--reject:#d695a0;--frame:#7cc0f5}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.45 system-ui,sans-serif}
main{max-width:88rem;margin:0 auto;padding:1.6rem 1.25rem 3rem}
h1{font-size:1.6rem;font-weight:600;margin:0;overflow-wrap:anywhere}
h2{font-size:1.12rem;font-weight:600;margin:0}
h3{font-size:.86rem;font-weight:500;color:var(--soft);margin:0 0 .45rem}
p{margin:.3rem 0}
a{color:inherit;text-decoration-color:var(--soft);text-underline-offset:.2em}
.soft{color:var(--soft)}
.hide{position:absolute;width:0;height:0}
.mark{width:1.25em;height:1.25em;vertical-align:-.25em;margin-right:.35em}
.keep{fill:var(--keep)}.undecided{fill:var(--undecided)}.paper{fill:var(--card)}
.line{fill:none;stroke-width:1.8;stroke-linecap:round;stroke-linejoin:round}
.keep.line{stroke:var(--keep)}.undecided.line{stroke:var(--undecided)}.reject.line{stroke:var(--reject)}
nav{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;margin:.6rem 0 0}
.burst{margin-top:2rem;border-top:2px solid var(--rule);padding-top:.8rem}
.burst>header{display:flex;flex-wrap:wrap;gap:.1rem 1.2rem;align-items:baseline}
.cards{margin-top:.8rem;display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,41.9rem),1fr));gap:1rem}
.cards article{background:var(--card);border:1px solid var(--rule);border-radius:.3rem;padding:.7rem;min-width:0}
.pair{display:flex;flex-wrap:wrap;gap:.6rem;align-items:flex-start}
.pair figure{margin:0;max-width:100%}
.pair figcaption{font-size:.78rem;color:var(--soft);margin-top:.15rem}
.whole{position:relative;width:320px;max-width:100%}
.whole .at{position:relative;display:block;width:fit-content;margin:0 auto}
.pair img{display:block;max-width:100%;height:auto}
.where{position:absolute;border:1.5px solid var(--frame);box-shadow:0 0 0 1px #fff9,inset 0 0 0 1px #0006}
.none{width:320px;max-width:100%;height:213px;display:grid;place-items:center;border:1px dashed var(--rule);color:var(--soft)}
.name{overflow-wrap:anywhere;unicode-bidi:isolate}
.says{margin:.5rem 0 0}
.says b{font-weight:600;margin-right:.8rem}
.rating{margin-right:.8rem;font-variant-numeric:tabular-nums}
.why{margin:.25rem 0 0;padding:0 0 0 1.1rem;overflow-wrap:anywhere}
.why li{margin:.1rem 0}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;margin-top:.8rem}
th,td{text-align:right;padding:.35rem .7rem;border-bottom:1px solid var(--rule)}
th{font-weight:500;color:var(--soft)}
td.left,th.left{text-align:left;overflow-wrap:anywhere}
td img{display:block;height:54px;width:81px;object-fit:contain}
.counts{display:flex;flex-wrap:wrap;gap:.2rem 1.6rem;list-style:none;margin:.7rem 0 0;padding:0}
.wide{overflow-x:auto}
footer{margin-top:2.5rem;border-top:1px solid var(--rule);padding-top:.8rem;font-size:.86rem;color:var(--soft)}
@media print{@page{margin:12mm}:root{--paper:#fff;--card:#fff;--ink:#000;--soft:#444;--rule:#bbb;--keep:#12665a;
--undecided:#8a5f0d;--reject:#85404c}html,body{font-size:8.5pt}main{max-width:none;padding:0}nav{display:none}
.cards{grid-template-columns:1fr 1fr;gap:3mm}.cards article{break-inside:avoid;padding:2mm}.burst>header{break-after:avoid}
.pair{flex-wrap:nowrap;gap:2mm}.pair figure{width:50%}.none{height:auto;aspect-ratio:3/2}}
)css";

std::string whole_figure(const SheetCard& card, const std::string& name) {
  if (card.whole_href.empty()) return "<figure class=\"none\">no picture</figure>";
  std::string out = "<figure class=\"whole\"><span class=\"at\">";
  out += fmt::format("<img loading=\"lazy\" src=\"{}\" width=\"{}\" height=\"{}\" alt=\"{}, whole frame\">",
                     html(card.whole_href), card.whole_width, card.whole_height, name);
  if (!card.crop_href.empty()) {
    const Region& r = card.place.region;
    out += fmt::format(
        "<span class=\"where\" style=\"left:{:.2f}%;top:{:.2f}%;width:{:.2f}%;height:{:.2f}%\"></span>",
        100 * r.x, 100 * r.y, 100 * r.w, 100 * r.h);
  }
  return out + "</span><figcaption>whole frame</figcaption></figure>";
}

std::string crop_figure(const SheetCard& card, const std::string& name) {
  if (card.crop_href.empty()) return "";
  return fmt::format(
      "<figure class=\"close\"><img loading=\"lazy\" src=\"{}\" width=\"{}\" height=\"{}\" alt=\"{}, {}\">"
      "<figcaption>{}</figcaption></figure>",
      html(card.crop_href), card.crop.width, card.crop.height, name, html(card.place.what),
      html(crop_on_sheet(card)));
}

std::string card_on_page(const SheetCard& card, const BurstOutcome& burst) {
  const FrameOutcome& f = *card.frame;
  const std::string name = html(name_on_sheet(f));
  const char* verdict = name_of(f.verdict.verdict);
  std::string place = place_on_sheet(f, burst);
  place[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(place[0])));
  std::string out = fmt::format("<article>\n<h3>{}</h3>\n<div class=\"pair\">{}{}</div>\n", html(place),
                                whole_figure(card, name), crop_figure(card, name));
  out += fmt::format("<p class=\"says\">{}<b>{}</b>", verdict_mark(verdict), verdict);
  if (f.verdict.rating.value_or(0) > 0)
    out += fmt::format("<span class=\"rating\">rating {}</span>", *f.verdict.rating);
  out += fmt::format("<span class=\"name\">{}</span></p>\n", name);
  if (const std::string with = settings_on_sheet(f.frame.capture); !with.empty())
    out += fmt::format("<p class=\"soft\">{}</p>\n", html(with));
  if (const std::string human = human_on_sheet(f); !human.empty())
    out += fmt::format("<p>{}</p>\n", html(human));
  out += "<ul class=\"why\">\n";
  for (const std::string& reason : reasons_on_sheet(f)) out += fmt::format("<li>{}</li>\n", html(reason));
  return out + "</ul>\n</article>\n";
}

std::string verdict_counts(std::size_t keep, std::size_t undecided, std::size_t reject) {
  return fmt::format(
      "<ul class=\"counts\"><li>{}{} keep</li><li>{}{} undecided</li><li>{}{} reject</li></ul>\n",
      verdict_mark("keep"), keep, verdict_mark("undecided"), undecided, verdict_mark("reject"), reject);
}

std::string index_row(const SheetEntry& e) {
  std::string picture;
  if (!e.best_href.empty())
    picture =
        fmt::format("<img loading=\"lazy\" src=\"{}\" alt=\"{}\">", html(e.best_href), html(e.best_name));
  return fmt::format(
      "<tr><td class=\"left\"><a href=\"{0}#burst-{1}\">Burst {1}</a></td><td>{2}</td><td "
      "class=\"left\">{3}</td>"
      "<td class=\"left\">{4}</td><td>{5}</td><td>{6}</td><td>{7}</td><td>{8}</td></tr>\n",
      html(e.page), e.number, picture, html(e.time), html(e.camera), e.shown, e.keep, e.undecided, e.reject);
}

}  // namespace

std::string sheet_page_top(const SheetOptions& o, const std::string& heading, const std::string& navigation) {
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self' file:; "
      "style-src "
      "'unsafe-inline'\">\n<meta name=\"generator\" content=\"burstsieve\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  out += fmt::format("<title>Contact sheet: {}</title>\n<style>\n{}</style></head>\n<body>\n{}<main>\n",
                     html(o.title), kSheetStyle, kVerdictMarks);
  return out + fmt::format("<header><p class=\"soft\">{}</p>\n<h1>{}</h1>\n{}</header>\n", html(heading),
                           html(o.title), navigation);
}

std::string sheet_page_end(const std::string& navigation) {
  return fmt::format(
      "{}<footer><p>Undecided frames want your eye; a reject is advice, nothing was deleted. A verdict's "
      "reasons, with "
      "every number: <code>burstsieve explain FILE</code>.</p>\n<p>burstsieve "
      "{}</p></footer>\n</main></body></html>\n",
      navigation, kVersion);
}

std::string burst_on_page(const SheetBurst& b) {
  const BurstOutcome& burst = *b.burst;
  const Capture& first = burst.frames.front().frame.capture;
  std::string out = fmt::format(
      "<section class=\"burst\" id=\"burst-{0}\"><header><h2>Burst {0}</h2><span>{1}</span><span "
      "class=\"soft\">{2}</span>"
      "<span class=\"soft\">{3}{4}</span></header>\n",
      burst.number, html(time_on_sheet(first)), html(burst.camera),
      counted(burst.frames.size(), "frame", "frames"),
      b.cards.size() < burst.frames.size() ? fmt::format(", {} of them here", b.cards.size()) : "");
  out += "<div class=\"cards\">\n";
  for (const SheetCard& card : b.cards) out += card_on_page(card, burst);
  return out + "</div>\n</section>\n";
}

std::string sheet_index(const SheetOptions& o, const std::vector<SheetEntry>& entries, std::size_t pages,
                        const std::string& debrief_page) {
  SheetEntry all;
  for (const SheetEntry& e : entries) {
    all.shown += e.shown;
    all.keep += e.keep;
    all.undecided += e.undecided;
    all.reject += e.reject;
  }
  std::string navigation = "<nav>";
  for (std::size_t p = 1; p <= pages; ++p)
    navigation += fmt::format("<a href=\"page-{0:03}.html\">{1}</a>", p,
                              p == 1 ? "First page" : fmt::format("Page {}", p));
  if (o.pdf) navigation += "<a href=\"sheet.pdf\">For printing (PDF)</a>";
  if (!debrief_page.empty())
    navigation += fmt::format("<a href=\"{}\">What cost frames (debrief)</a>", html(debrief_page));
  navigation += "</nav>\n";
  std::string out = sheet_page_top(o, "Contact sheet", navigation);
  out += fmt::format(
      "<p>{} in {}{}</p>\n", counted(all.shown, "frame", "frames"),
      counted(entries.size(), "burst", "bursts"),
      all.shown < all.keep + all.undecided + all.reject
          ? fmt::format(", of {}", counted(all.keep + all.undecided + all.reject, "frame", "frames"))
          : "");
  out += verdict_counts(all.keep, all.undecided, all.reject);
  out +=
      "<div class=\"wide\"><table>\n<tr><th class=\"left\">burst</th><th></th><th class=\"left\">time</th>"
      "<th class=\"left\">camera</th><th>here</th><th>keep</th><th>undecided</th><th>reject</th></tr>\n";
  for (const SheetEntry& e : entries) out += index_row(e);
  out += "</table></div>\n";
  if (!o.written.empty()) out += fmt::format("<p class=\"soft\">Written {}</p>\n", html(o.written));
  return out + sheet_page_end("");
}

}  // namespace burstsieve::report
