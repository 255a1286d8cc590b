// What commands that only look share: a run without sidecars.
#pragma once
#include <functional>
#include <string>

#include "settings.h"

namespace burstsieve::tool {

// Runs `cull --dry-run`, remembered where it can be, and hands over each burst. Errors and progress go to
// stderr. The exit code; kDone and kSomeFailed mean that every burst was handed over.
int look(Settings& settings, const std::function<void(const BurstOutcome&)>& take);

// "2026-11-25" of "~/pictures/2026-11-25/"; of several places "2026-11-25 and 2 more".
std::string title_of(const std::vector<std::string>& places);

}  // namespace burstsieve::tool
