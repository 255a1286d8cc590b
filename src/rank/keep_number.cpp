#include "keep_number.h"

#include <algorithm>
#include <string>

#include "burstsieve/rank/choice.h"

namespace burstsieve::rank {
namespace {

std::vector<std::size_t> keeps_of(const std::vector<FrameVerdict>& verdicts) {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < verdicts.size(); ++i)
    if (verdicts[i].verdict == Verdict::keep) out.push_back(i);
  return out;
}

double share_of_pose(const std::vector<FrameVerdict>& verdicts, int pose) {
  const auto same =
      std::count_if(verdicts.begin(), verdicts.end(), [&](const FrameVerdict& v) { return v.pose == pose; });
  return static_cast<double>(same) / static_cast<double>(verdicts.size());
}

void leave_out(FrameVerdict& v, std::size_t most) {
  v.verdict = Verdict::undecided;
  v.rating.reset();
  std::erase_if(v.reasons, [](const Reason& r) { return r.code == kSpare; });
  const auto number = static_cast<double>(most);
  const std::string frames = most == 1 ? "1 frame" : std::to_string(most) + " frames";
  v.reasons.insert(v.reasons.begin(), {kOverNumber,
                                       "sound, but this burst is to keep no more than " + frames +
                                           ", and others show more of it",
                                       number, "", number, 1});
}

}  // namespace

void keep_no_more(std::size_t most, const Alike& alike, std::vector<FrameVerdict>& verdicts) {
  const std::vector<std::size_t> keeps = keeps_of(verdicts);
  if (keeps.size() <= most) return;
  std::vector<KeepOption> options;
  for (const std::size_t i : keeps)
    options.push_back({share_of_pose(verdicts, verdicts[i].pose), verdicts[i].rating.value_or(0) / 5.0});
  const auto shows = [&](std::size_t a, std::size_t b) {
    return alike ? std::clamp(alike(keeps[a], keeps[b]), 0.0, 1.0) : 0.0;
  };
  const std::vector<std::size_t> chosen = chosen_keeps(options, shows, most);
  for (std::size_t k = 0; k < keeps.size(); ++k) {
    if (std::find(chosen.begin(), chosen.end(), k) != chosen.end()) continue;
    const int pose = verdicts[keeps[k]].pose;
    for (FrameVerdict& v : verdicts)
      if (v.pose == pose && (v.verdict == Verdict::keep || is_spare(v))) leave_out(v, most);
  }
}

}  // namespace burstsieve::rank
