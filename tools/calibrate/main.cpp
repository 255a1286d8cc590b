// burstsieve-calibrate: how often is a confidence right? Prints the reliability of every measure on generated
// frames, or the curves that make it so.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <map>
#include <opencv2/core/utility.hpp>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "crops.h"
#include "expected.h"
#include "outing.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::calibrate;

constexpr std::size_t kFewestForCurve = 60;
constexpr int kFewest = 30;  // values for a bin to be shown

// What is claimed: by which measure, from what, and in which of its promise's ranges.
struct Claim {
  std::string measure;
  bool sensor = false;
  std::size_t range = 0;
  auto operator<=>(const Claim&) const = default;
};
using ByClaim = std::map<Claim, std::vector<Sample>>;

ByClaim by_claim(std::vector<Sample> samples) {
  ByClaim out;
  for (Sample& s : samples) {
    const auto limits = promise_of(s.measure).limits;
    const auto range = std::lower_bound(limits.begin(), limits.end(), s.value) - limits.begin();
    out[{s.measure, s.sensor, static_cast<std::size_t>(range)}].push_back(std::move(s));
  }
  return out;
}

std::string named(const Claim& c) {
  const auto limits = promise_of(c.measure).limits;
  if (limits.empty()) return c.measure;
  if (c.range == 0) return fmt::format("{} <= {:g}", c.measure, limits.front());
  if (c.range == limits.size()) return fmt::format("{} > {:g}", c.measure, limits.back());
  return fmt::format("{} {:g} to {:g}", c.measure, limits[c.range - 1], limits[c.range]);
}

// The instruments' own confidence, before the curves.
std::vector<Sample> evidence_in(std::vector<Sample> samples) {
  for (Sample& s : samples)
    if (const auto* curve = measure::trust_curve(s.measure, s.sensor, s.value))
      s.confidence = measure::evidence_of(*curve, s.confidence);
  return samples;
}

std::string stated(const measure::Tolerance& t) {
  std::string out;
  if (t.absolute > 0) out = fmt::format("{:g}", t.absolute);
  if (t.relative > 0) out += (out.empty() ? "" : " or ") + fmt::format("{:g} %", 100 * t.relative);
  return out;
}

void print_table(const ByClaim& all, bool evidence) {
  fmt::print("| measure | from | within | values |");
  for (int b = 0; b < kBins; ++b) fmt::print(" .{}- |", b);
  fmt::print(" mean error |\n|---|---|---|---|");
  for (int b = 0; b <= kBins; ++b) fmt::print("---|");
  fmt::print("\n");
  for (const auto& [claim, samples] : all) {
    const auto shown = evidence ? evidence_in(samples) : samples;
    fmt::print("| {} | {} | {} | {} |", named(claim), claim.sensor ? "raw" : "rendering",
               stated(promise_of(claim.measure).within), samples.size());
    for (const Bin& bin : binned(shown)) {
      if (bin.values < kFewest)
        fmt::print(" |");
      else
        fmt::print(" {:.2f} → {:.2f} ({}) |", bin.confidence, bin.share(), bin.values);
    }
    fmt::print(" {:.3f} |\n", calibration_error(shown));
  }
}

void print_source(const ByClaim& all) {
  fmt::print(
      "// Written by `burstsieve-calibrate --fit`; run it again after every change of an instrument.\n"
      "#include \"burstsieve/measure/trust.h\"\n\nnamespace burstsieve::measure {{\nnamespace {{\n\n"
      "// clang-format off\nconstexpr TrustCurve kCurves[] = {{\n");
  for (const auto& [claim, samples] : all) {
    if (samples.size() < kFewestForCurve) continue;  // its confidence stays the instrument's own
    const Promise p = promise_of(claim.measure);
    const auto limit = [&](std::size_t i) { return fmt::format("{:g}", p.limits[i]); };
    fmt::print("    {{\"{}\", {}, {}, {}, {{{:g}, {:g}}},\n     {{", claim.measure, claim.sensor,
               claim.range > 0 ? limit(claim.range - 1) : "-kNoLimit",
               claim.range < p.limits.size() ? limit(claim.range) : "kNoLimit", p.within.absolute,
               p.within.relative);
    const auto knots = fitted(evidence_in(samples));
    for (std::size_t k = 0; k < knots.size(); ++k) fmt::print("{}{:.4f}", k ? ", " : "", knots[k]);
    fmt::print("}}}},\n");
  }
  fmt::print(
      "}};\n// clang-format on\n\n}}  // namespace\n\nstd::span<const TrustCurve> trust_curves() {{\n"
      "  return kCurves;\n}}\n\n}}  // namespace burstsieve::measure\n");
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Holds the confidences of every measure against generated frames of known truth."};
  OutingOptions options;
  options.threads = static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
  bool fit = false, evidence = false, list = false;
  app.add_option("--bursts", options.bursts, "Bursts of 4 to 10 frames")->capture_default_str();
  app.add_option("--seed", options.seed, "1 to 99: for fitting; others are held out")->capture_default_str();
  app.add_option("--threads", options.threads, "Does not change the result")->check(CLI::Range(1, 256));
  app.add_flag("--fit", fit, "Print src/measure/trust_table.cpp instead");
  app.add_flag("--evidence", evidence, "Show the instruments' own confidence, before the curves");
  app.add_flag("--list", list, "Print every value beside its truth instead");
  CLI11_PARSE(app, argc, argv);
  cv::setNumThreads(1);
  std::string folder = (std::filesystem::temp_directory_path() / "burstsieve-calibrate-XXXXXX").string();
  if (!mkdtemp(folder.data())) {
    fmt::print(stderr, "burstsieve-calibrate: {}: can't make the folder\n", folder);
    return 1;
  }
  auto samples = samples_of_outing(options, folder, [](std::size_t done, std::size_t all) {
    if (done % 20 == 0 || done == all) fmt::print(stderr, "{} of {} bursts\n", done, all);
  });
  std::filesystem::remove_all(folder);
  if (!samples) {
    fmt::print(stderr, "burstsieve-calibrate: {}\n", samples.error().line());
    return 1;
  }
  for (Sample& s : samples_of_crops(options)) samples->push_back(std::move(s));
  if (list) {
    fmt::print("measure,raw,burst,confidence,value,truth,within\n");
    for (const Sample& s : *samples)
      fmt::print("{},{},{},{:.4f},{:.5g},{:.5g},{}\n", s.measure, s.sensor ? 1 : 0, s.burst, s.confidence,
                 s.value, s.truth, s.within ? 1 : 0);
    return 0;
  }
  const ByClaim all = by_claim(std::move(*samples));
  if (fit)
    print_source(all);
  else
    print_table(all, evidence);
  return 0;
}
