// What lies on a card or in a folder.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/outcome.h"

namespace burstsieve::pipeline {

struct Scan {
  std::vector<FileRef> files;  // sorted by path
  ScanCounts counts;
  std::vector<Error> errors;  // files and folders that could not be read; the rest was
};

// Photographs under `places` (folders, or single files), told by their content. Links are followed; a folder
// or file reached twice counts once, so a loop of links ends. Names beginning with a dot, empty files and
// everything else that is no photograph are counted and left alone. Opens files for reading only. An Error
// only when none of `places` exists or a limit is passed.
Result<Scan> scan(const std::vector<std::string>& places, const Limits& limits);

}  // namespace burstsieve::pipeline
