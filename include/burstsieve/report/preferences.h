// What was learnt of a photographer's taste, in words and numbers, and as a file to take along
// (docs/preferences.md).
#pragma once
#include <string>
#include <string_view>

#include "burstsieve/catalog/catalog.h"

namespace burstsieve::report {

// A paragraph on what it was learnt from and whether it is in use, and a line for each feature.
std::string preferences_text(const PreferenceProfile& profile);
// One line: what a run's end has to say after learning.
std::string learnt_line(const PreferenceProfile& profile);

// The same as one JSON object, ending with a newline: what `export` writes and `show --json` prints.
std::string preferences_json(const PreferenceProfile& profile);
// Of what preferences_json() wrote, the weights as the base to learn on from; name and counts are not taken
// over. Cause::corrupt for anything else, unsupported for another format version. Bounds are enforced.
// `file`: for the error.
Result<PreferenceProfile> preferences_from_json(std::string_view text, const std::string& file);
// Bytes of such a file at most; ours have 3,000.
inline constexpr std::size_t kMostPreferenceBytes = 65536;

}  // namespace burstsieve::report
