#include "burstsieve/pipeline/learn.h"

#include <algorithm>
#include <map>
#include <set>
#include <utility>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/group/pose.h"
#include "burstsieve/rank/choices.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::pipeline {
namespace {

// Bursts looked at at most, those of the last folders by name: 30,000 frames or so, half a gigabyte of
// records read one after the other.
constexpr std::size_t kMostBursts = 4000;

// The photographer's last word on each path.
using Words = std::map<std::string, NumberedOverride>;

Words last_words(const std::vector<NumberedOverride>& overrides, std::int64_t after) {
  Words out;
  for (const NumberedOverride& o : overrides)
    if (o.id > after) out[o.entry.path] = o;
  return out;
}

using Ratings = std::map<std::string, std::optional<int>>;

Ratings ratings_below(Catalog& catalog, const std::string& folder) {
  Ratings out;
  for (const PathVerdict& v : catalog.verdicts_below(folder)) out[v.path] = v.verdict.rating;
  return out;
}

rank::Considered considered(const std::string& path, const FrameFacts& facts, const Words& words,
                            const Ratings& ratings) {
  rank::Considered out{rank::features_of(facts), std::nullopt, std::nullopt};
  if (const auto word = words.find(path); word != words.end()) {
    out.human = word->second.entry.human.value_or(0);
    out.ours = word->second.entry.ours;
  } else if (const auto rating = ratings.find(path); rating != ratings.end()) {
    out.ours = rating->second;
  }
  return out;
}

// One for each pose and picture size, as rank::judge() compares.
void add_groups(const StoredBurst& burst, const Words& words, const Ratings& ratings,
                std::vector<rank::ChoiceGroup>& out) {
  std::vector<const PoseDescriptor*> pictures;
  for (const FrameFacts& f : burst.facts) pictures.push_back(&f.pose);
  const std::vector<int> poses = group::pose_groups(pictures, {});
  std::map<std::pair<int, int>, std::vector<rank::Considered>> by_pose;
  for (std::size_t i = 0; i < burst.facts.size(); ++i) {
    const FrameFacts& f = burst.facts[i];
    if (poses[i] == 0 || !rank::standing_of(f).known) continue;
    by_pose[{poses[i], std::max(f.pixel_width, f.pixel_height)}].push_back(
        considered(burst.paths[i], f, words, ratings));
  }
  for (const auto& [key, frames] : by_pose) out.push_back(rank::choices_of(frames));
}

struct Material {
  std::vector<rank::ChoiceGroup> groups;
  std::set<std::string> seen;  // paths
};

// How far a folder was looked through, by name: to the last word; and with our verdicts there to be seen, to
// the last word on a frame that we had judged before. What was rated before our first run agreed with nobody.
struct Looked {
  std::string last_word, last_judged;
};

Material material_of(Catalog& catalog, const Words& words) {
  std::map<std::string, Looked> folders;
  for (const auto& [path, word] : words) {
    Looked& l = folders[folder_of(path)];
    l.last_word = path;
    if (word.judged) l.last_judged = path;
  }
  std::vector<std::pair<const Looked*, std::string>> bursts;
  for (const auto& [folder, looked] : folders)
    for (std::string& key : catalog.bursts_up_to(looked.last_word))
      bursts.emplace_back(&looked, std::move(key));
  const std::size_t from = bursts.size() > kMostBursts ? bursts.size() - kMostBursts : 0;
  Material out;
  const Looked* folder = nullptr;
  Ratings ratings;
  const Ratings none;
  for (std::size_t i = from; i < bursts.size(); ++i) {
    if (std::exchange(folder, bursts[i].first) != bursts[i].first)
      ratings = ratings_below(catalog, folder_of(folder->last_word));
    const auto burst = catalog.stored_burst(bursts[i].second);
    if (!burst) continue;
    out.seen.insert(burst->paths.begin(), burst->paths.end());
    const bool seen_by_them = burst->paths.front() <= folder->last_judged;
    add_groups(*burst, words, seen_by_them ? ratings : none, out.groups);
  }
  return out;
}

Status unread(Catalog& catalog) {
  const auto notes = catalog.take_notes();
  return notes.empty() ? Status(Done{}) : Status(Error{Cause::corrupt, {}, notes.front()});
}

}  // namespace

PreferenceProfile fresh_profile(const std::string& name) {
  PreferenceProfile out;
  out.name = name;
  out.learnt.weights = out.learnt.base = rank::default_weights();
  return out;
}

Result<Lesson> learn_preferences(Catalog& catalog, const std::string& profile, std::int64_t now_ms) {
  Lesson out{catalog.preferences(profile).value_or(fresh_profile(profile)), false, 0};
  const auto overrides = catalog.overrides_of(profile);
  if (auto s = unread(catalog); !s) return s.error();
  if (overrides.empty() ||
      overrides.back().id <= std::max(out.profile.last_override, out.profile.forgotten_to))
    return out;
  const Words words = last_words(overrides, out.profile.forgotten_to);
  const Material material = material_of(catalog, words);
  if (auto s = unread(catalog); !s) return s.error();
  for (const auto& [path, word] : words) out.unknown += material.seen.count(path) == 0;
  rank::Learnt learnt = rank::learn(material.groups, out.profile.learnt.base, {});
  out.profile.last_override = overrides.back().id;
  if (out.unknown == 0 || learnt.overrides >= out.profile.learnt.overrides) {
    out.profile.learnt = std::move(learnt);
    out.profile.learnt_ms = now_ms;
    out.fresh = true;
  }
  if (auto s = catalog.store_preferences(out.profile); !s) return s.error();
  return out;
}

Status reset_preferences(Catalog& catalog, const std::string& profile, std::int64_t now_ms) {
  PreferenceProfile empty = fresh_profile(profile);
  const auto overrides = catalog.overrides_of(profile);
  if (auto s = unread(catalog); !s) return s.error();
  if (!overrides.empty()) empty.forgotten_to = empty.last_override = overrides.back().id;
  empty.learnt_ms = now_ms;
  return catalog.store_preferences(empty);
}

}  // namespace burstsieve::pipeline
