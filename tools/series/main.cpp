// burstsieve-series: does our order of a series agree with people's?
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <string>

#include "burstsieve/base/file_system.h"
#include "burstsieve/report/preferences.h"
#include "run.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::series;

// Published on general photographs by people's choices; M: from memory, R: read, by the project's notes.
constexpr const char* kPublished =
    "\nPublished, for comparison (other data than yours, unless yours is theirs; how they chose and left out "
    "pairs was\n"
    "not verified):\n"
    "  pairs   73.2 %   Chang et al., SIGGRAPH 2016 (15,545 photographs, 5,953 series; from memory)\n"
    "  pairs   75.36 %  SPSNet, 2023 (the same data; the highest found)\n"
    "  first   64.1 %   Wang 2018, bursts of about 11 frames\n"
    "  top 3   86.2 %   the same\n";

void line(const char* what, const Share& s) {
  if (s.of == 0)
    fmt::print("  {:<38} -\n", what);
  else
    fmt::print("  {:<38} {:5.1f} %  ({:.1f} to {:.1f}; {:g} of {})\n", what, 100 * s.value(), 100 * s.low(),
               100 * s.high(), s.hit, s.of);
}

void print(const Score& s) {
  fmt::print("{} series, {} photographs ({:.1f} each), {} without an answer\n\n", s.top_1.of, s.photographs,
             s.mean_length, s.unmeasured);
  fmt::print("Agreement with people's choices, with 95 % intervals (Wilson):\n");
  line("pairs with a majority", s.pairs);
  line("pairs where 70 % or more agree", s.decided_pairs);
  line("our first is their best", s.top_1);
  line("their best among our first three", s.top_3);
  line("the same, series of six or more", s.top_3_of_many);
  fmt::print("{}", kPublished);
}

Result<std::optional<rank::Weights>> weights_in(const std::string& file) {
  if (file.empty()) return std::optional<rank::Weights>{};
  RealFileSystem fs;
  const auto bytes = fs.read_file(file, report::kMostPreferenceBytes);
  if (!bytes) return bytes.error();
  const auto profile =
      report::preferences_from_json({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, file);
  if (!profile) return profile.error();
  return std::optional(profile->learnt.base);
}

int failed(const Error& e) {
  fmt::print(stderr, "burstsieve-series: {}\n", e.line());
  return 1;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{
      "Measures every photograph of series, lines them up, and counts how often people chose alike."};
  RunOptions options;
  std::string detector = "installed", preferences;
  app.add_option("folder", options.folder, "Folder of photographs")->required();
  app.add_option("choices", options.choices, "People's choices")->required();
  app.add_option("--detector", detector,
                 "Model file; installed: where tools/setup.sh puts it, if it is there; off: without")
      ->capture_default_str();
  app.add_option("--preferences", preferences, "Go by what `burstsieve preferences export` wrote");
  app.add_option("-j,--threads", options.threads, "Photographs measured at once (0: one per core)")
      ->check(CLI::Range(0, 1024))
      ->capture_default_str();
  app.footer(kChoicesFormat);
  CLI11_PARSE(app, argc, argv);
  const bool any = detector == "installed";
  const std::string model = any ? subject::detector_file() : detector;
  if (detector != "off" && !(any && !std::filesystem::exists(model))) {
    auto pool = subject::DetectorPool::load(model);
    if (!pool) return failed(pool.error());
    options.detectors = std::move(*pool);
  }
  auto weights = weights_in(preferences);
  if (!weights) return failed(weights.error());
  options.learnt = *weights;
  const auto result = run(options);
  if (!result) return failed(result.error());
  for (const Error& e : result->errors) fmt::print(stderr, "burstsieve-series: {}\n", e.line());
  print(result->score);
  return result->score.pairs.of > 0 ? 0 : 1;
}
