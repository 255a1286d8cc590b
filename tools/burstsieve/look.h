// What commands that only look share: a run without sidecars, and files that are ours to replace.
#pragma once
#include <functional>
#include <string>

#include "burstsieve/base/file_system.h"
#include "settings.h"

namespace burstsieve::tool {

// Runs `cull --dry-run`, remembered where it can be, and hands over each burst. Errors and progress go to
// stderr. The exit code; kDone and kSomeFailed mean that every burst was handed over.
int look(Settings& settings, const std::function<void(const BurstOutcome&)>& take);

// Writes a page under `path`. A file that is there already is replaced only when burstsieve wrote it: a slip
// of the hand must not cost a photograph.
Status write_page(FileSystem& fs, const std::string& path, const std::string& page);
// Whether a page begins as ours do.
bool is_our_page(Bytes bytes);

// "2026-11-25" of "~/pictures/2026-11-25/"; of several places "2026-11-25 and 2 more".
std::string title_of(const std::vector<std::string>& places);

}  // namespace burstsieve::tool
