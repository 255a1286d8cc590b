#include "verdicts.h"

#include <fmt/format.h>

#include <set>
#include <utility>

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

}  // namespace

Confusion confusion(std::span<const JudgedFrame> frames) {
  std::set<std::pair<std::string, std::string>> sound;  // burst and posture
  for (const JudgedFrame& f : frames)
    if (!f.truth->ruined) sound.insert({f.truth->burst, f.truth->pose});
  Confusion out;
  out.frames = frames.size();
  for (const JudgedFrame& f : frames) {
    const TrueFrame& t = *f.truth;
    out.left += f.verdict == Verdict::undecided;
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
  return out + fmt::format("\n{} of {} frames left to look at ({:.1f} %)\n", c.left, c.frames,
                           100.0 * static_cast<double>(c.left) /
                               static_cast<double>(std::max<std::size_t>(1, c.frames)));
}

}  // namespace burstsieve::season_check
