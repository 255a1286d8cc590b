// burstsieve-heads: samples of known heads, the fit of the finder's weights, and how often it is right.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <memory>

#include "count.h"
#include "fit.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::heads;

int failed(const Error& e) {
  fmt::print(stderr, "burstsieve-heads: {}\n", e.line());
  return 1;
}

Result<std::vector<Sample>> loaded(const std::vector<std::string>& folders) {
  std::vector<Sample> out;
  for (const std::string& folder : folders) {
    auto some = load(folder);
    if (!some) return some.error();
    for (Sample& s : *some) out.push_back(std::move(s));
  }
  return out;
}

std::string clear_only(const Sample& s) {
  return s.shown == Shown::no || s.faulty ? "" : s.burst < 0 ? "cut-outs" : s.kind;
}

void print(const char* title, const std::vector<Judged>& judged, bool in_burst,
           const std::function<std::string(const Sample&)>& key) {
  fmt::print(
      "\n{}\n| | visible | right | wrong | said hidden | first place right | hidden | said hidden | said "
      "visible |\n"
      "|---|---|---|---|---|---|---|---|---|\n",
      title);
  for (const auto& [name, t] : tally(judged, in_burst, key))
    fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} | {} |\n", name, t.frames, t.right, t.wrong, t.lost,
               t.first, t.hidden, t.hidden_known, t.hidden_seen);
}

// Of those said so with that confidence, how many are.
void print_reliability(const std::vector<Judged>& judged) {
  constexpr std::array kFrom{0.0, .5, .6, .7, .8, .9, .95, .98, 1.01};
  fmt::print("\n| confidence | said visible | right | said hidden | right |\n|---|---|---|---|---|\n");
  for (std::size_t b = 0; b + 1 < kFrom.size(); ++b) {
    int visible = 0, seen = 0, hidden = 0, known = 0;
    for (const Judged& j : judged) {
      if (j.in_burst.confidence < kFrom[b] || j.in_burst.confidence >= kFrom[b + 1]) continue;
      if (j.in_burst.view == HeadView::visible)
        ++visible, seen += j.right && j.sample->shown == Shown::visible;
      if (j.in_burst.view == HeadView::hidden && j.sample->shown != Shown::no)
        ++hidden, known += j.sample->shown == Shown::hidden;
    }
    fmt::print("| {}- | {} | {} | {} | {} |\n", kFrom[b], visible, seen, hidden, known);
  }
}

// Error of the blur that was read, where nothing moved and both ways gave one.
void print_blur(const std::vector<Sample>& samples) {
  std::vector<double> all, head;
  int softer_all = 0, softer_head = 0, lost = 0;
  for (const Sample& s : samples) {
    if (s.moved_px > 0 || s.burst < 0 || s.blur_of_all <= 0) continue;
    if (s.blur_of_head <= 0) {
      ++lost;
      continue;
    }
    all.push_back(std::abs(s.blur_of_all - s.blur_px) / s.blur_px);
    head.push_back(std::abs(s.blur_of_head - s.blur_px) / s.blur_px);
    softer_all += s.blur_of_all > 1.3 * s.blur_px;
    softer_head += s.blur_of_head > 1.3 * s.blur_px;
  }
  if (all.empty()) return;
  std::sort(all.begin(), all.end());
  std::sort(head.begin(), head.end());
  const auto at = [](const std::vector<double>& v, double q) {
    return v[static_cast<std::size_t>(q * static_cast<double>(v.size() - 1))];
  };
  fmt::print(
      "\nBlur of {} frames ({} more lost by the head)\n| read from | error 50 % | 90 % | read 30 % too soft "
      "|\n|---|---|---|---|\n"
      "| subject | {:.2f} | {:.2f} | {} |\n| head | {:.2f} | {:.2f} | {} |\n",
      all.size(), lost, at(all, .5), at(all, .9), softer_all, at(head, .5), at(head, .9), softer_head);
}

void count(const std::vector<Sample>& samples, bool true_mask, bool each) {
  const auto start = std::chrono::steady_clock::now();
  const auto judged = judge(samples, true_mask);
  const double ms =
      std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  fmt::print("{} samples, {:.1f} ms each\n", samples.size(),
             ms / static_cast<double>(std::max<std::size_t>(1, samples.size())));
  print("Each frame alone", judged, false, clear_only);
  print("In its burst", judged, true, clear_only);
  print("In its burst, blurred and moved frames", judged, true,
        [](const Sample& s) { return s.faulty && s.shown != Shown::no ? std::string("ruined") : ""; });
  print("Head outside the frame or behind reeds", judged, true,
        [](const Sample& s) { return s.shown == Shown::no ? std::string("not in it") : ""; });
  print_reliability(judged);
  print_blur(samples);
  if (!each) return;
  for (const Judged& j : judged)
    fmt::print("{} {} {} shown {} blur {:.1f} first {} alone {} {:.2f} burst {} {:.2f} odds {:.1f} {:.1f}\n",
               j.sample->kind, j.sample->burst, j.sample->frame, static_cast<int>(j.sample->shown),
               j.sample->blur_px, j.right ? "right" : "WRONG", name_of(j.alone.view), j.alone.confidence,
               name_of(j.in_burst.view), j.in_burst.confidence, j.alone.evidence.visible,
               j.alone.evidence.hidden);
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Samples of known heads, the fit of the finder's weights, and how often it is right."};
  app.require_subcommand(1);
  std::uint64_t seed = 1;
  int bursts = 50, variants = 6;
  bool plain = false, true_mask = false, each = false;
  std::string out, birds, truth, use = "held";
  std::vector<std::string> folders;
  auto* make = app.add_subcommand("make", "Renders samples of a season, or of cut-outs, into a folder");
  make->add_option("OUT", out, "Folder to write to")->required();
  make->add_option("--seed", seed, "Of the season or of the composites")->capture_default_str();
  make->add_option("--bursts", bursts, "Of the season")->capture_default_str();
  make->add_option("--cut-outs", birds, "Folder of cut-outs: those instead of a season");
  make->add_option("--truth", truth, "Their heads (tests/subject/data/heads.txt)");
  make->add_option("--use", use, "Which of them: tune or held")->capture_default_str();
  make->add_option("--variants", variants, "Composites of each")->capture_default_str();
  make->add_flag("--no-detector", plain, "Find the birds without the detector");
  auto* fitted = app.add_subcommand("fit", "Writes head_weights.cpp to the standard output");
  FitOptions options;
  fitted->add_option("FOLDERS", folders, "Of samples")->required();
  fitted->add_option("--units", options.units)->capture_default_str();
  fitted->add_option("--epochs", options.epochs)->capture_default_str();
  fitted->add_option("--decay", options.decay)->capture_default_str();
  fitted->add_option("--real", options.real)->capture_default_str();
  fitted->add_option("--hidden-share", options.hidden_share)->capture_default_str();
  auto* counted = app.add_subcommand("count", "How often the finder is right");
  counted->add_option("FOLDERS", folders, "Of samples")->required();
  counted->add_flag("--true-mask", true_mask, "Given the animal's own outline");
  counted->add_flag("--each", each, "A line for every sample, too");
  CLI11_PARSE(app, argc, argv);
  if (*make) {
    std::shared_ptr<subject::DetectorPool> pool;
    if (!plain)
      if (auto p = subject::DetectorPool::load(subject::detector_file())) pool = *p;
    const auto samples = birds.empty() ? generated(seed, bursts, pool.get(), 2)
                                       : cut_outs(birds, truth, use, variants, seed, pool.get());
    if (!samples) return failed(samples.error());
    if (Status s = store(out, *samples); !s) return failed(s.error());
    fmt::print("{} samples in {}\n", samples->size(), out);
    return 0;
  }
  const auto samples = loaded(folders);
  if (!samples) return failed(samples.error());
  if (*fitted) {
    std::string how = fmt::format(
        "fit of {} samples, {} units, {} epochs, decay {}, cut-outs weigh {}, hidden {}", samples->size(),
        options.units, options.epochs, options.decay, options.real, options.hidden_share);
    fmt::print("{}", source_of(fit(*samples, options), how));
    return 0;
  }
  count(*samples, true_mask, each);
  return 0;
}
