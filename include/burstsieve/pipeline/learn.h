// From the overrides in the catalogue to what they teach.
#pragma once
#include <cstddef>
#include <cstdint>
#include <string>

#include "burstsieve/catalog/catalog.h"

namespace burstsieve::pipeline {

struct Lesson {
  PreferenceProfile profile;  // as it is stored now
  bool fresh = false;         // something was learnt just now
  std::size_t unknown = 0;    // overrides of frames that the catalogue no longer knows
};

// Of a photographer of whom nothing is known: the default weights.
PreferenceProfile fresh_profile(const std::string& name);

// Learns anew from all that the profile's overrides say, if there are any since the last time, and stores it.
// A folder with an override counts as looked through up to the last one by name; our keeps there that were
// let stand count as agreed with (rank/choices.h). When frames have gone from the catalogue and less is left
// to learn from than before, what was learnt stays. For the end of a run, not its middle: a killed and a
// whole run must give the same verdicts.
Result<Lesson> learn_preferences(Catalog& catalog, const std::string& profile, std::int64_t now_ms);

// Forgets what was learnt or imported; the overrides up to now teach nothing any more.
Status reset_preferences(Catalog& catalog, const std::string& profile, std::int64_t now_ms);

}  // namespace burstsieve::pipeline
