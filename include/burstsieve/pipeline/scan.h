// What lies on a card or in a folder.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

struct Scan {
  std::vector<FileRef> files;  // sorted by path
  ScanCounts counts;
  std::vector<Error> errors;  // files and folders that could not be read; the rest was
};

// Says of a file, by path, bytes and last change (ns since 1970), whether it may be opened yet.
using FileReady = std::function<bool(const std::string& path, std::uint64_t size, std::int64_t mtime_ns)>;

// Photographs under `places` (folders, or single files), told by their content. Links are followed; a folder
// or file reached twice counts once, so a loop of links ends. Names beginning with a dot, empty files and
// everything else that is no photograph are counted and left alone; so are files that are not
// `ready` (empty: all are). Only the
// engine opens files. An Error
// only when none of `places` exists or a limit is passed.
Result<Scan> scan(Engine& engine, const std::vector<std::string>& places, const Limits& limits,
                  const FileReady& ready = {});

}  // namespace burstsieve::pipeline
