// burstsieve-season: verdicts and pose groups against the truth of a generated season.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <bit>
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/subject/detector.h"
#include "poses.h"
#include "verdicts.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::season_check;

struct Collected : pipeline::Listener {
  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t, std::size_t) override {}
  void burst(const BurstOutcome& b) override { bursts.push_back(b); }
  void error(const Error& e) override { fmt::print(stderr, "burstsieve-season: {}\n", e.line()); }
  std::vector<BurstOutcome> bursts;
};

// Groups by the hash alone: a frame joins the first group whose first frame is within `bits`.
std::vector<int> hash_groups(const BurstOutcome& b, int bits) {
  std::vector<std::uint64_t> leaders;
  std::vector<int> out;
  for (const FrameOutcome& f : b.frames) {
    std::size_t g = 0;
    while (g < leaders.size() && std::popcount(leaders[g] ^ f.facts.pose.hash) > bits) ++g;
    if (g == leaders.size()) leaders.push_back(f.facts.pose.hash);
    out.push_back(static_cast<int>(g) + 1);
  }
  return out;
}

void print_poses(const char* name, const std::vector<Labelled>& bursts) {
  const PoseAgreement a = agreement(bursts);
  fmt::print("| {} | {:.3f} | {:.3f} | {} of {} | {} of {} |\n", name, a.mean_index, a.pooled_index,
             a.together_right, a.together, a.same_found, a.same);
}

// One line for each frame: truth and facts, for experiments.
void dump(const std::string& path, const Collected& run, const Truth& truth, const std::string& folder) {
  std::ofstream out(path);
  for (const BurstOutcome& b : run.bursts)
    for (const FrameOutcome& f : b.frames) {
      const TrueFrame* t = true_frame(truth, folder, f.frame.main().path);
      if (!t) continue;
      out << b.number << '\t' << t->burst << '\t' << t->pose << '\t' << t->ruined << t->best_of_pose << '\t';
      for (const auto& fault : t->faults) out << fault << ',';
      out << '\t' << name_of(f.verdict.verdict) << '\t' << f.verdict.pose << '\t' << f.verdict.place << '\t'
          << t->blur_sigma_px << '\t' << t->motion_px << '\t' << t->motion_of << '\t' << t->whites_lost
          << '\t' << t->cut_by_edge << '\t' << t->head_visible << '\t' << f.frame.raw.has_value() << '\t';
      const Subject* first = f.facts.subjects.empty() ? nullptr : &f.facts.subjects.front();
      out << (first ? name_of(first->head_view) : "none") << '\t' << (first ? first->head_confidence : 0)
          << '\t';
      for (const Measure& m : f.facts.measures) out << m.id << '=' << m.value << '@' << m.confidence << ' ';
      out << '\t' << leaf_of(f.frame.main().path) << '\t';
      if (!f.verdict.reasons.empty()) out << f.verdict.reasons.front().text;
      out << '\t';
      for (const std::uint8_t v : f.facts.pose.tile) out << fmt::format("{:02x}", v);
      out << '\n';
    }
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Verdicts and pose groups against the truth of a season that burstsieve-generate made."};
  std::string folder, catalog_path, detector = subject::detector_file(), dump_path;
  int threads = 0;
  pipeline::CullOptions options;
  app.add_option("folder", folder, "Folder with truth.json")->required();
  app.add_option("--catalog", catalog_path,
                 "Keeps the measures for a second look (default: FOLDER/season.sqlite)");
  app.add_option("--detector", detector, "Model file of the subject detector, or off");
  app.add_option("--threads", threads, "0: one per core");
  app.add_option("--sure", options.policy.sure, "As cull's");
  app.add_option("--keep-sure", options.policy.keep_sure, "Confidence the sharpness needs for a keep");
  app.add_option("--likeness", options.poses.likeness, "Average likeness of frames of one pose");
  app.add_option("--dump", dump_path, "Truth and facts of every frame as tab-separated text");
  CLI11_PARSE(app, argc, argv);
  const auto truth = read_truth(folder);
  if (!truth) {
    fmt::print(stderr, "burstsieve-season: {}\n", truth.error().line());
    return 1;
  }
  auto catalog =
      Catalog::open(catalog_path.empty() ? folder + "/season.sqlite" : catalog_path, kEngineVersion);
  if (!catalog) {
    fmt::print(stderr, "burstsieve-season: {}\n", catalog.error().line());
    return 1;
  }
  options.places = {folder};
  options.dry_run = true;
  options.threads = threads;
  if (detector != "off" && std::filesystem::exists(detector)) options.engine.detector = detector;
  RealFileSystem files;
  SystemClock clock;
  Collected run;
  const auto summary = pipeline::cull(options, *catalog, files, clock, run);
  if (!summary) {
    fmt::print(stderr, "burstsieve-season: {}\n", summary.error().line());
    return 1;
  }
  std::vector<Labelled> ours, by_hash;
  std::vector<JudgedFrame> judged;
  std::vector<double> overlaps;
  for (const BurstOutcome& b : run.bursts) {
    Labelled mine, hash;
    hash.groups = hash_groups(b, 10);
    for (const FrameOutcome& f : b.frames) {
      const TrueFrame* t = true_frame(*truth, folder, f.frame.main().path);
      if (!t) break;
      overlaps.push_back(f.facts.subjects.empty() ? 0 : overlap(f.facts.subjects.front().box, t->subject));
      judged.push_back({t, f.verdict.verdict, rank::is_spare(f.verdict), f.verdict.pose});
      mine.groups.push_back(f.verdict.pose);
      mine.poses.push_back(t->pose);
    }
    if (mine.poses.size() != b.frames.size()) continue;
    hash.poses = mine.poses;
    ours.push_back(std::move(mine));
    by_hash.push_back(std::move(hash));
  }
  fmt::print(
      "| pose groups | adjusted Rand index, mean of bursts | pooled | pairs put together: right | pairs of "
      "one "
      "posture: found |\n|---|---|---|---|---|\n");
  print_poses("DCT hash alone, up to 10 bits", by_hash);
  print_poses("ours", ours);
  fmt::print("\n{}", table(confusion(judged)));
  std::sort(overlaps.begin(), overlaps.end());
  if (!overlaps.empty())
    fmt::print(
        "first subject: overlap of {:.2f} / {:.2f} / {:.2f} at 10/25/50 % of the frames; .5 and more in {} "
        "of {}\n",
        overlaps[overlaps.size() / 10], overlaps[overlaps.size() / 4], overlaps[overlaps.size() / 2],
        overlaps.end() - std::lower_bound(overlaps.begin(), overlaps.end(), .5), overlaps.size());
  if (!dump_path.empty()) dump(dump_path, run, *truth, folder);
  return 0;
}
