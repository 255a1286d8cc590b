#include "verdicts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "burstsieve/rank/policy.h"

namespace burstsieve::season_check {
namespace {

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& w : words) out += (out.empty() ? "" : ", ") + w;
  return out.empty() ? "none" : out;
}

std::string line(const std::string& name, const Counts& c) {
  return fmt::format("| {} | {} | {} | {} |\n", name, c.keep, c.undecided, c.reject);
}

double total_blur(const TrueFrame& t) {
  return std::hypot(t.blur_sigma_px,
                    t.motion_of == "none" || t.motion_of == "pan" ? 0 : t.motion_px / std::sqrt(12));
}

// Below rank::kSharpAsCanBe no measurement tells two frames apart; above, a tenth is within every tolerance.
bool as_good(double blur, double best) {
  return blur <= std::max(rank::kSharpAsCanBe, 1.1 * best);
}

void count_postures(std::span<const JudgedFrame> frames, Confusion& out) {
  std::map<std::pair<std::string, std::string>, double> best, kept;  // blur
  for (const JudgedFrame& f : frames) {
    if (f.truth->ruined) continue;
    const std::pair key{f.truth->burst, f.truth->pose};
    if (f.truth->best_of_pose) best[key] = total_blur(*f.truth);
    if (f.verdict != Verdict::keep) continue;
    const auto [at, made] = kept.emplace(key, total_blur(*f.truth));
    at->second = std::min(at->second, total_blur(*f.truth));
  }
  for (const auto& [key, blur] : best) {
    ++out.postures;
    const auto found = kept.find(key);
    out.best_or_equal_kept += found != kept.end() && as_good(found->second, blur);
  }
}

}  // namespace

Confusion confusion(std::span<const JudgedFrame> frames) {
  std::set<std::pair<std::string, std::string>> sound;  // burst and posture
  for (const JudgedFrame& f : frames)
    if (!f.truth->ruined) sound.insert({f.truth->burst, f.truth->pose});
  Confusion out;
  count_postures(frames, out);
  out.frames = frames.size();
  for (const JudgedFrame& f : frames) {
    const TrueFrame& t = *f.truth;
    out.spare += f.spare;
    out.left += f.verdict == Verdict::undecided && !f.spare;
    (t.ruined ? (t.best_of_pose ? out.ruined_best : out.ruined) : (t.best_of_pose ? out.best : out.other))
        .add(f.verdict);
    if (!t.ruined) continue;
    out.ruined_by_fault[joined(t.faults)].add(f.verdict);
    if (!sound.contains({t.burst, t.pose})) out.ruined_alone.add(f.verdict);
  }
  return out;
}

std::string table(const Confusion& c) {
  std::string out = "| truth | keep | undecided | reject |\n|---|---|---|---|\n";
  out += line("best of its pose, sound", c.best) + line("best of its pose, but ruined", c.ruined_best) +
         line("ruined", c.ruined) + line("other sound frames", c.other) +
         line("(ruined, no sound frame of the posture)", c.ruined_alone);
  for (const auto& [fault, counts] : c.ruined_by_fault) out += line("(ruined: " + fault + ")", counts);
  const auto share = [](std::size_t n, std::size_t of) {
    return fmt::format("{} of {} ({:.1f} %)", n, of,
                       100.0 * static_cast<double>(n) / static_cast<double>(std::max<std::size_t>(1, of)));
  };
  return out + fmt::format(
                   "\npostures with a sound frame whose best, or one as good, is kept: {}\n"
                   "frames left to look at: {}; spare: {}\n",
                   share(c.best_or_equal_kept, c.postures), share(c.left, c.frames),
                   share(c.spare, c.frames));
}

}  // namespace burstsieve::season_check
