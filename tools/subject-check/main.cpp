// burstsieve-subjects: how well are the animals found? Counts the finders' boxes against boxes drawn by a
// person.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <opencv2/core/utility.hpp>
#include <string>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/subject/detector.h"
#include "check.h"
#include "compose.h"
#include "report.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::subject_check;

void print(const Check& check) {
  fmt::print("| finder | recall | boxes right | IoU 10/50/90 % |");
  for (const Size s : kSizes) fmt::print(" {} wide |", name_of(s));
  fmt::print(" said something of a picture without an animal |\n|---|---|---|---|---|---|---|---|---|\n");
  for (const auto& [source, score] : check.finders) {
    fmt::print("| {} | {} | {} | {:.2f} / {:.2f} / {:.2f} |", source, shown(score.animals),
               shown(score.boxes), score.overlap_at(.1), score.overlap_at(.5), score.overlap_at(.9));
    for (const Size s : kSizes) {
      const auto found = score.by_size.find(s);
      fmt::print(" {} |", found == score.by_size.end() ? "-" : shown(found->second));
    }
    fmt::print(" {} |\n", shown(score.empty));
  }
  for (const std::string& name : check.missed) fmt::print("first subject is no animal: {}\n", one_line(name));
}

// The pictures of the truth file that show no animal.
std::vector<std::string> backdrops_of(const std::string& folder, const std::string& truth) {
  std::vector<std::string> out;
  RealFileSystem files;
  const auto bytes = files.read_file(truth, kMostTruthBytes);
  if (!bytes) return out;
  for (const TruthLine& line :
       parse_truth({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, truth).pictures)
    if (line.boxes.empty()) out.push_back(folder + "/" + line.name);
  return out;
}

int compose(const std::string& cutouts, const std::vector<std::string>& backdrops,
            const ComposeOptions& options, subject::DetectorPool* detectors) {
  const auto result = check_composed(cutouts, backdrops, options, detectors);
  if (!result) {
    fmt::print(stderr, "burstsieve-subjects: {}\n", result.error().line());
    return 1;
  }
  for (const Error& e : result->errors) fmt::print(stderr, "burstsieve-subjects: {}\n", e.line());
  fmt::print(
      "| width of the animal | composites | seen by the detector | first subject right "
      "|\n|---|---|---|---|\n");
  for (const Composed& row : result->rows)
    if (row.width > 0)
      fmt::print("| {:.0f} % | {} | {} | {} |\n", 100 * row.width, row.pictures,
                 shown({row.pictures, row.detected}), shown({row.pictures, row.first}));
    else
      fmt::print("\nOf {} windows without an animal the detector says something in {}.\n", row.pictures,
                 shown({row.pictures, row.detected}));
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Counts how well the animals of pictures are found, against boxes drawn by a person."};
  std::string folder, truth;
  app.add_option("folder", folder, "Folder of pictures")->required();
  app.add_option("truth", truth, "Truth file")->required();
  std::string detector = "installed";
  app.add_option("--detector", detector,
                 "Model file; installed: where tools/setup.sh puts it, if it is there; off: without")
      ->capture_default_str();
  std::string report;
  app.add_option("--report", report,
                 "Folder for a page (index.html) that shows every picture with its boxes");
  std::string cutouts;
  ComposeOptions composing;
  app.add_option(
         "--compose", cutouts,
         "Instead: cut-outs of this folder (PNG with alpha), 20, 10 and 5 % of the frame wide, on the "
         "pictures that the truth file says show no animal")
      ->check(CLI::ExistingDirectory);
  app.add_option("--count", composing.count, "Composites of each width")
      ->check(CLI::Range(1, 100000))
      ->capture_default_str();
  app.add_option("--seed", composing.seed, "First seed; below 5000 they served for tuning")
      ->capture_default_str();
  app.add_flag("--focus", composing.focus, "The camera's focus area lies on the animal");
  app.footer(kTruthFormat);
  CLI11_PARSE(app, argc, argv);
  cv::setNumThreads(1);
  std::shared_ptr<subject::DetectorPool> detectors;
  const bool any = detector == "installed";
  const std::string model = any ? subject::detector_file() : detector;
  if (detector != "off" && !(any && !std::filesystem::exists(model))) {
    auto pool = subject::DetectorPool::load(model);
    if (!pool) {
      fmt::print(stderr, "burstsieve-subjects: {}\n", pool.error().line());
      return 1;
    }
    detectors = std::move(*pool);
  }
  if (!cutouts.empty()) return compose(cutouts, backdrops_of(folder, truth), composing, detectors.get());
  const auto result = check(folder, truth, {detectors.get(), report.empty() ? 0 : kReportSide});
  if (!result) {
    fmt::print(stderr, "burstsieve-subjects: {}\n", result.error().line());
    return 1;
  }
  for (const Error& e : result->errors) fmt::print(stderr, "burstsieve-subjects: {}\n", e.line());
  fmt::print("{} pictures; an animal is found when a box overlaps its own by .5 (IoU)\n\n", result->pictures);
  print(*result);
  if (!report.empty())
    if (const Status s = write_report(*result, report); !s) {
      fmt::print(stderr, "burstsieve-subjects: {}\n", s.error().line());
      return 1;
    }
  return result->pictures > 0 ? 0 : 1;
}
