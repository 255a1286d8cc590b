#include <fmt/format.h>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/report/summary.h"
#include "markup.h"
#include "words.h"

namespace burstsieve::report {
namespace {

constexpr const char* kStyle =
    R"css(:root{color-scheme:light dark;--paper:#f6f4ef;--card:#fff;--ink:#22303a;--soft:#5b6a74;--rule:#d9d5ca;
--keep:#17695c;--undecided:#9a6a12;--reject:#8a4450;--alarm:#9c2f23}
@media(prefers-color-scheme:dark){:root{--paper:#161d22;--card:#1f282f;--ink:#e4e8e6;--soft:#9fb0b8;--rule:#35424b;
--keep:#63c3ae;--undecided:#dcae57;--reject:#d695a0;--alarm:#f0907f}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif}
main{max-width:62rem;margin:0 auto;padding:2rem 1.25rem 3rem}
h1{font-size:1.7rem;font-weight:600;margin:0}
h2{font-size:1.1rem;font-weight:600;margin:2.2rem 0 .7rem}
p{margin:.5rem 0 .2rem}
.soft{color:var(--soft)}
.hide{position:absolute;width:0;height:0}
.mark{width:1.3em;height:1.3em;vertical-align:-.25em;margin-right:.4em}
.keep{fill:var(--keep)}.undecided{fill:var(--undecided)}.paper{fill:var(--card)}
.line{fill:none;stroke-width:1.8;stroke-linecap:round;stroke-linejoin:round}
.keep.line{stroke:var(--keep)}.undecided.line{stroke:var(--undecided)}.reject.line{stroke:var(--reject)}
.share{display:block;width:100%;height:1.5rem;margin:1.3rem 0 .6rem}
.share .empty{fill:var(--card);stroke:var(--reject);stroke-width:1.5}
.counts{display:flex;flex-wrap:wrap;gap:.3rem 2rem;margin:0;padding:0;list-style:none}
.counts b{font-size:1.25rem;font-variant-numeric:tabular-nums;margin-right:.3rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
th,td{text-align:right;padding:.35rem .6rem;border-bottom:1px solid var(--rule)}
th{font-weight:500;color:var(--soft)}
th:first-child,td:first-child{text-align:left;padding-left:0;overflow-wrap:anywhere}
.wide{overflow-x:auto}
.grid{display:grid;grid-template-columns:repeat(auto-fill,minmax(13rem,1fr));gap:1rem}
figure{margin:0;background:var(--card);border:1px solid var(--rule);border-radius:.4rem;overflow:hidden}
figure .none{padding:1rem}
figure img,figure .none{display:block;width:100%;aspect-ratio:3/2;object-fit:contain;background:var(--rule)}
figcaption{padding:.55rem .7rem .65rem;font-size:.86rem;line-height:1.4}
figcaption b{overflow-wrap:anywhere}
.rating{float:right;color:var(--keep);font-variant-numeric:tabular-nums;margin-left:.5rem}
.list{margin:0;padding:0;list-style:none}
.list li{padding:.5rem 0;border-bottom:1px solid var(--rule);overflow-wrap:anywhere}
.failed{border-left:4px double var(--alarm);padding-left:1rem}
.failed h2{color:var(--alarm);margin-top:2.2rem}
code{font-family:ui-monospace,monospace;font-size:.92em}
footer{margin-top:2.5rem;border-top:1px solid var(--rule);padding-top:.9rem;font-size:.86rem}
)css";

// Keep, undecided, reject side by side: solid, hatched, empty.
std::string share_bar(const SummaryFolder& t) {
  if (t.frames == 0) return "";
  const double all = static_cast<double>(t.frames);
  const double keep = 1000 * static_cast<double>(t.keep) / all,
               undecided = 1000 * static_cast<double>(t.undecided) / all;
  std::string out = fmt::format(
      "<svg class=\"share\" viewBox=\"0 0 1000 24\" preserveAspectRatio=\"none\" role=\"img\" "
      "aria-label=\"{} keep, {} undecided, {} reject\">\n",
      t.keep, t.undecided, t.reject);
  out += "<rect x=\"1\" y=\"1\" width=\"998\" height=\"22\" class=\"empty\"/>\n";
  if (t.undecided)
    out += fmt::format("<rect x=\"{:.1f}\" width=\"{:.1f}\" height=\"24\" fill=\"url(#hatch)\"/>\n", keep,
                       undecided);
  if (t.keep) out += fmt::format("<rect width=\"{:.1f}\" height=\"24\" class=\"keep\"/>\n", keep);
  return out + "</svg>\n";
}

std::string counts(const SummaryFolder& t) {
  std::string out = "<ul class=\"counts\">\n";
  out += fmt::format("<li>{}<b>{}</b>keep</li>\n", verdict_mark("keep"), t.keep);
  out += fmt::format("<li>{}<b>{}</b>undecided</li>\n", verdict_mark("undecided"), t.undecided);
  out += fmt::format("<li>{}<b>{}</b>reject</li>\n", verdict_mark("reject"), t.reject);
  return out + "</ul>\n";
}

std::string head(const MorningSummary& s, const SummaryFolder& t) {
  std::string headline = "Nothing new came in";
  if (t.frames) headline = fmt::format("{} of {} to keep", t.keep, counted(t.frames, "frame", "frames"));
  std::string out =
      fmt::format("<header><p class=\"soft\">Summary of {}</p>\n<h1>{}</h1>\n", html(s.date), headline);
  if (t.frames)
    out += fmt::format("<p class=\"soft\">{} in {}</p>\n", counted(t.files, "file", "files"),
                       counted(t.bursts, "burst", "bursts"));
  return out + "</header>\n";
}

std::string also(const SummaryFolder& t) {
  std::string out;
  if (t.revised)
    out += fmt::format("<p>{} told in an earlier summary {} another verdict now.</p>\n",
                       counted(t.revised, "frame", "frames"), t.revised == 1 ? "has" : "have");
  if (t.gone)
    out += fmt::format("<p>{} told in an earlier summary {} no longer there.</p>\n",
                       counted(t.gone, "frame", "frames"), t.gone == 1 ? "is" : "are");
  return out;
}

std::string failures(const MorningSummary& s) {
  if (s.failures.empty()) return "";
  std::string out = fmt::format("<section class=\"failed\"><h2>{} failed</h2>\n<ul class=\"list\">\n",
                                counted(s.failures.size(), "file", "files"));
  for (const SummaryFailure& f : s.failures)
    out += fmt::format("<li><code>{}</code><br>{}</li>\n", html(f.file), html(f.reason));
  return out + "</ul></section>\n";
}

std::string waiting(const MorningSummary& s) {
  if (s.waiting.empty()) return "";
  std::string out = fmt::format(
      "<section><h2>{} still changing</h2>\n<p class=\"soft\">Left for the next time.</p><ul "
      "class=\"list\">\n",
      counted(s.waiting.size(), "file", "files"));
  for (const std::string& w : s.waiting) out += fmt::format("<li><code>{}</code></li>\n", html(w));
  return out + "</ul></section>\n";
}

std::string keeper(const SummaryKeeper& k) {
  const std::string name = html(leaf_of(k.path));
  std::string out = "<figure>";
  if (k.thumbnail.empty())
    out += "<div class=\"none soft\">no picture</div>";
  else
    out += fmt::format("<img alt=\"{}\" src=\"data:image/jpeg;base64,{}\">", name, base64(k.thumbnail));
  out += "<figcaption>";
  if (k.rating) out += fmt::format("<span class=\"rating\">rating {}</span>", *k.rating);
  return out + fmt::format("{}<b>{}</b><br><span class=\"soft\">{}</span></figcaption></figure>\n",
                           verdict_mark("keep"), name, html(k.why));
}

std::string keepers(const MorningSummary& s) {
  if (s.keepers.empty()) return "";
  std::string out = "<section><h2>Best frames</h2>\n<div class=\"grid\">\n";
  for (const SummaryKeeper& k : s.keepers) out += keeper(k);
  out += "</div>\n";
  if (s.more_keepers)
    out +=
        fmt::format("<p class=\"soft\">And {} more; their sidecars say rating 1 to 5.</p>\n", s.more_keepers);
  return out + "</section>\n";
}

std::string light(const MorningSummary& s) {
  if (s.light.empty()) return "";
  std::string out = "<section><h2>Light</h2>\n";
  for (const LightDrift& d : s.light) out += fmt::format("<p>{}</p>\n", html(drift_text(d)));
  return out + "</section>\n";
}

std::string folders(const MorningSummary& s) {
  std::string out =
      "<section><h2>Folders</h2>\n<div "
      "class=\"wide\"><table>\n<tr><th>folder</th><th>frames</th><th>bursts</th>"
      "<th>keep</th><th>undecided</th><th>reject</th><th>since</th></tr>\n";
  for (const SummaryFolder& f : s.folders)
    out += fmt::format(
        "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n",
        html(f.folder), f.frames, f.bursts, f.keep, f.undecided, f.reject,
        f.since.empty() ? "the beginning" : html(f.since));
  return out + "</table></div></section>\n";
}

}  // namespace

std::string summary_page(const MorningSummary& s) {
  const SummaryFolder t = s.total();
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  out += fmt::format("<title>Summary of {}</title>\n<style>\n{}</style></head>\n<body>\n{}<main>\n",
                     html(s.date), kStyle, kVerdictMarks);
  out += head(s, t);
  if (t.frames) out += share_bar(t) + counts(t);
  out += also(t) + failures(s) + keepers(s) + light(s) + waiting(s) + folders(s);
  out += fmt::format(
      "<footer class=\"soft\"><p>Undecided frames want your eye; a reject is advice, nothing was "
      "deleted.</p>\n"
      "<p>Why a verdict: <code>burstsieve explain FILE</code>. Every run: <code>burstsieve history</code>. "
      "Take one back: <code>burstsieve undo</code>.</p>\n<p>Written {} by burstsieve {}.</p></footer>\n",
      html(s.written), kVersion);
  return out + "</main></body></html>\n";
}

}  // namespace burstsieve::report
