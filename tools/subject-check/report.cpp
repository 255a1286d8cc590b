#include "report.h"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>

#include "burstsieve/base/text.h"
#include "overlay.h"

namespace burstsieve::subject_check {
namespace {

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : one_line(text)) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else if (c == '"')
      out += "&quot;";
    else
      out += c;
  }
  return out;
}

constexpr const char* kHead = R"(<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>How the animals are found</title>
<style>
body { font: 15px/1.45 sans-serif; margin: 1.5rem auto; max-width: 1460px; padding: 0 1rem; color: #1b1b1b; background: #fafafa }
h1 { font-size: 1.5rem } h2 { font-size: 1.15rem; margin-top: 2rem }
.wide { overflow-x: auto }
table { border-collapse: collapse; background: #fff } th, td { border: 1px solid #bbb; padding: .25rem .55rem; text-align: left; white-space: nowrap }
th { background: #eee }
.pictures { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 30rem), 1fr)); gap: 1.2rem }
figure { margin: 0; background: #fff; border: 1px solid #bbb; padding: .5rem }
figure img { display: block; width: 100%; height: 28rem; object-fit: contain; background: #333 }
figcaption { padding-top: .4rem; overflow-wrap: anywhere } figcaption b { display: block }
.key { display: flex; flex-wrap: wrap; gap: .4rem 1.6rem; padding: 0; list-style: none }
.key svg { vertical-align: middle; background: #333; margin-right: .4rem }
</style></head><body>
)";

std::string key_line(const Style& s, const std::string& meaning) {
  const std::string dashes =
      s.on > 0 ? fmt::format(" stroke-dasharray=\"{} {}\"", s.on, s.off) : std::string();
  return fmt::format(
      "<li><svg width=\"72\" height=\"16\"><line x1=\"3\" y1=\"8\" x2=\"69\" y2=\"8\" stroke=\"{}\" "
      "stroke-width=\"{}\"{}/></svg><b>{}</b> ({}): {}</li>\n",
      css_colour(s), s.thick, dashes, s.label, s.line, meaning);
}

std::string key() {
  return "<ul class=\"key\">\n" + key_line(style_of_truth(), "drawn by a person") +
         key_line(style_of(kFirst), "what the frame is judged by") +
         key_line(style_of(subject::kDetectorSource), "the neural detector") +
         key_line(style_of("AF area"), "the camera's focus area and what it lies on") +
         key_line(style_of("focus energy"), "where fine detail stands out") + "</ul>\n";
}

std::string table(const Check& check) {
  std::string out =
      "<div class=\"wide\"><table><tr><th>finder</th><th>animals found</th><th>boxes right</th>"
      "<th>overlap 10/50/90 %</th>";
  for (const Size s : kSizes) out += fmt::format("<th>{} wide</th>", escaped(name_of(s)));
  out += "<th>says something without an animal</th></tr>\n";
  for (const auto& [source, score] : check.finders) {
    out += fmt::format("<tr><td>{}</td><td>{}</td><td>{}</td><td>{:.2f} / {:.2f} / {:.2f}</td>",
                       escaped(source), shown(score.animals), shown(score.boxes), score.overlap_at(.1),
                       score.overlap_at(.5), score.overlap_at(.9));
    for (const Size s : kSizes) {
      const auto found = score.by_size.find(s);
      out += fmt::format("<td>{}</td>", found == score.by_size.end() ? "-" : shown(found->second));
    }
    out += fmt::format("<td>{}</td></tr>\n", shown(score.empty));
  }
  return out + "</table></div>\n";
}

std::string figure(const Shown& p, const std::string& file) {
  const auto& fused = p.looked.answers.back().boxes;
  const char* verdict = p.truth.empty() ? "no animal in it" : p.right ? "right" : "missed";
  const std::string name = std::filesystem::path(p.name).filename().string();
  const std::string why = fused.empty() ? "nothing stands out" : "first: " + fused.front().why;
  return fmt::format(
      "<figure><img src=\"{}\" alt=\"{}, with the boxes\" loading=\"lazy\"><figcaption><b>{} - "
      "{}</b>{}</figcaption></figure>\n",
      file, escaped(name), escaped(name), verdict, escaped(why));
}

std::string pictures(const Check& check, bool with_animals) {
  std::string out = "<div class=\"pictures\">\n";
  for (std::size_t i = 0; i < check.shown.size(); ++i)
    if (check.shown[i].truth.empty() != with_animals)
      out += figure(check.shown[i], fmt::format("{:04}.jpg", i));
  return out + "</div>\n";
}

std::string page(const Check& check) {
  std::string out = kHead;
  out += fmt::format(
      "<h1>How the animals are found</h1>\n<p>{} pictures. An animal is found when a box overlaps its own by "
      "half "
      "(intersection over union).</p>\n",
      check.pictures);
  out += table(check) + key();
  out += "<h2>With animals</h2>\n" + pictures(check, true);
  out += "<h2>Without</h2>\n" + pictures(check, false);
  out += "<h2>Credits</h2>\n<ul>\n";
  for (const std::string& c : check.credits) out += "<li>" + escaped(c) + "</li>\n";
  return out + "</ul>\n</body></html>\n";
}

}  // namespace

Status write_report(const Check& check, const std::string& folder) {
  std::error_code problem;
  std::filesystem::create_directories(folder, problem);
  if (problem) return Error{Cause::io, folder, "can't be made: " + problem.message()};
  for (std::size_t i = 0; i < check.shown.size(); ++i) {
    const std::string file = fmt::format("{}/{:04}.jpg", folder, i);
    const cv::Mat drawn = overlay(check.shown[i].looked, check.shown[i].truth);
    if (drawn.empty() || !cv::imwrite(file, drawn, {cv::IMWRITE_JPEG_QUALITY, 88}))
      return Error{Cause::io, file, "can't be written"};
  }
  const std::string index = folder + "/index.html";
  std::ofstream out(index, std::ios::binary);
  out << page(check);
  out.close();
  if (!out) return Error{Cause::io, index, "can't be written"};
  return Done{};
}

}  // namespace burstsieve::subject_check
