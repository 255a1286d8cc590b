// Metadata of all files of a run, from the catalogue where it knows them.
#pragma once
#include <vector>

#include "burstsieve/catalog/catalog.h"
#include "burstsieve/group/pairs.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

struct Metadata {
  std::vector<group::TakenFile> taken;  // in the order of `files`
  std::vector<Error> errors;  // of files whose metadata could not be read; they are in `taken` all the same
};

// A file without readable metadata stays a frame: its picture may be whole.
Metadata read_metadata(const std::vector<FileRef>& files, Catalog& catalog, Engine& engine);

}  // namespace burstsieve::pipeline
