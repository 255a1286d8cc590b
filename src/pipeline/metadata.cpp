#include "metadata.h"

#include <algorithm>
#include <utility>

namespace burstsieve::pipeline {
namespace {

// Files whose metadata are stored in one transaction: few enough to lose little in a kill, enough to be
// quick.
constexpr std::size_t kBatch = 2000;

}  // namespace

Metadata read_metadata(const std::vector<FileRef>& files, Catalog& catalog, Engine& engine) {
  Metadata out;
  out.taken.resize(files.size());
  for (std::size_t begin = 0; begin < files.size(); begin += kBatch) {
    const std::size_t end = std::min(files.size(), begin + kBatch);
    std::vector<std::size_t> unknown;
    for (std::size_t i = begin; i < end; ++i) {
      out.taken[i].file = files[i];
      if (auto known = catalog.capture_of(files[i]))
        out.taken[i].capture = std::move(*known);
      else
        unknown.push_back(i);
    }
    std::vector<FileRef> asked;
    for (const std::size_t i : unknown) asked.push_back(files[i]);
    auto captures = engine.read_captures(asked);
    if (!engine.status()) return out;
    std::vector<FileCapture> fresh;
    for (std::size_t k = 0; k < unknown.size(); ++k) {
      if (!captures[k]) {
        out.errors.push_back(captures[k].error());
        continue;
      }
      out.taken[unknown[k]].capture = *captures[k];
      fresh.push_back({files[unknown[k]], std::move(*captures[k])});
    }
    if (fresh.empty()) continue;
    if (const auto stored = catalog.store_captures(fresh); !stored) out.errors.push_back(stored.error());
  }
  return out;
}

}  // namespace burstsieve::pipeline
