#include "burstsieve/report/sheet.h"

#include <ctime>
#include <filesystem>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/pipeline/engine_process.h"
#include "burstsieve/report/debrief.h"
#include "burstsieve/report/own_page.h"
#include "look.h"
#include "output.h"
#include "sheet.h"

namespace burstsieve::tool {
namespace {

namespace files = std::filesystem;

// Whether `path` is `folder` or lies below it. Neither needs to exist.
bool lies_in(const files::path& path, const files::path& folder) {
  // Absolute first: of a relative path that is not there yet weakly_canonical() makes nothing.
  std::error_code ignored;
  const auto inner = files::weakly_canonical(files::absolute(path), ignored),
             outer = files::weakly_canonical(files::absolute(folder), ignored);
  const auto relative = inner.lexically_relative(outer);
  return !relative.empty() && *relative.begin() != "..";
}

// Pictures beside photographs would be taken for photographs by the next run.
std::optional<Error> beside_photographs(const std::string& out, const Settings& settings, bool named) {
  for (const std::string& place : settings.cull.places) {
    const files::path folder =
        files::is_directory(place) ? files::path(place) : files::path(folder_of(place));
    if (!lies_in(out, folder)) continue;
    return Error{
        Cause::unsupported, out,
        std::string("lies in the photographs' folder, where its pictures would be culled next time; ") +
            (named ? "name another" : "name another with --out DIR")};
  }
  return std::nullopt;
}

std::string now_text() {
  SystemClock clock;
  const auto seconds = static_cast<std::time_t>(clock.now_ms() / 1000);
  std::tm parts{};
  char text[32];
  if (!localtime_r(&seconds, &parts) || std::strftime(text, sizeof text, "%Y-%m-%d %H:%M", &parts) == 0)
    return "";
  return text;
}

// Has crops made by the process that may open photographs. A frame without one is a line on stderr, and a
// frame without a crop on the sheet.
class Crops {
 public:
  explicit Crops(pipeline::Engine& engine) : engine_(engine) {}

  std::vector<report::SheetCrop> operator()(const std::vector<const FrameOutcome*>& frames,
                                            const std::vector<report::CropPlace>& places) {
    std::vector<pipeline::RenderTask> tasks;
    std::vector<std::size_t> of;
    for (std::size_t i = 0; i < frames.size(); ++i) {
      if (places[i].region.empty()) continue;
      // To whole pixels: up to one more on each side. Four to spare, so that 100 % stays 100 %.
      tasks.push_back({frames[i]->frame, places[i].region, report::kCropWidth + 4, 88});
      of.push_back(i);
    }
    std::vector<report::SheetCrop> out(frames.size());
    auto made = engine_.render(tasks);
    for (std::size_t k = 0; k < made.size() && k < of.size(); ++k) {
      if (made[k]) {
        out[of[k]] = {std::move(made[k]->jpeg), made[k]->width, made[k]->height};
      } else {
        ++failed_;
        complain("burstsieve: {}\n", made[k].error().line());
      }
    }
    return out;
  }
  std::size_t failed() const { return failed_; }

 private:
  pipeline::Engine& engine_;
  std::size_t failed_ = 0;
};

}  // namespace

void add_sheet_options(CLI::App& app, SheetSettings& s) {
  static const std::map<std::string, report::Paper> papers{{"a4", report::Paper::a4},
                                                           {"letter", report::Paper::letter}};
  static const std::map<std::string, Verdict> verdicts{
      {"keep", Verdict::keep}, {"undecided", Verdict::undecided}, {"reject", Verdict::reject}};
  app.add_option("--out", s.out, "Folder of the sheet (default: NAME-sheet in the current folder)")
      ->type_name("DIR");
  app.add_option("--only", s.options.only, "Only frames of these verdicts, separated by commas")
      ->delimiter(',')
      ->transform(CLI::CheckedTransformer(verdicts, CLI::ignore_case).description("{keep,undecided,reject}"))
      ->type_name("VERDICTS");
  app.add_option("--paper", s.options.paper, "Paper of the PDF (default: a4)")
      ->transform(CLI::CheckedTransformer(papers, CLI::ignore_case).description("{a4,letter}"))
      ->type_name("SIZE");
  app.add_flag("--no-pdf{false}", s.options.pdf, "HTML only");
  app.add_flag("--no-crops", s.no_crops, "Whole frames only: no photograph is opened for its crop at 100 %");
}

int run_sheet(Settings& settings, SheetSettings& sheet) {
  std::string out = sheet.out;
  if (out.empty()) {
    std::string name = title_of(settings.cull.places);
    if (name.empty() || name.find('/') != std::string::npos) name = "burstsieve";
    out = name + "-sheet";
  }
  if (const auto e = beside_photographs(out, settings, !sheet.out.empty())) return cannot_run(*e);
  out = files::weakly_canonical(files::absolute(out)).string();

  RealFileSystem fs;
  sheet.options.title = title_of(settings.cull.places);
  sheet.options.written = now_text();
  auto folder = report::SheetFolder::start(fs, out, sheet.options);
  if (!folder) return cannot_run(folder.error());

  std::unique_ptr<pipeline::Engine> engine;
  std::optional<Crops> crops;
  if (!sheet.no_crops) {
    pipeline::EngineOptions options = settings.cull.engine;
    options.detector.clear();  // it only draws
    options.detector_required = false;
    auto made = pipeline::make_engine(options, settings.cull.threads, settings.cull.limits);
    if (!made) return cannot_run(made.error());
    engine = std::move(*made);
    crops.emplace(*engine);
  }
  const report::CropMaker maker = crops ? report::CropMaker(std::ref(*crops)) : report::CropMaker{};

  report::DebriefMaker debrief;
  std::size_t bursts = 0;
  Status written = Done{};
  const int code = look(settings, [&](const BurstOutcome& b) {
    debrief.add(b);
    ++bursts;
    if (written) written = (*folder)->add(b, maker);
  });
  if (!written) return cannot_run(written.error());
  if (code != kDone && code != kSomeFailed) return code;
  const auto page = report::debrief_page(debrief.finish(), sheet.options.title);
  for (const Status& s : {report::write_own_page(fs, out + "/debrief.html", page, "Debrief: "),
                          (*folder)->finish("debrief.html")})
    if (!s) return cannot_run(s.error());

  if (settings.json) {
    say("{}\n", nlohmann::ordered_json{{"type", "sheet"},
                                       {"index", one_line(out + "/index.html")},
                                       {"pdf", sheet.options.pdf ? one_line(out + "/sheet.pdf") : ""},
                                       {"bursts", bursts},
                                       {"frames", (*folder)->frames()},
                                       {"paper_pages", (*folder)->paper_pages()}}
                    .dump());
  } else {
    say("Sheet    {}: {} frames of {} bursts\n", one_line(out + "/index.html"), (*folder)->frames(), bursts);
    if (sheet.options.pdf)
      say("Print    {}: {} pages\n", one_line(out + "/sheet.pdf"), (*folder)->paper_pages());
    say("Debrief  {}\n", one_line(out + "/debrief.html"));
  }
  if (lost_output()) return kCannotRun;
  return crops && crops->failed() ? kSomeFailed : code;
}

}  // namespace burstsieve::tool
