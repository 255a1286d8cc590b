#include "metadata.h"

#include <tbb/parallel_for.h>

#include <optional>
#include <span>
#include <utility>

#include "burstsieve/decode/metadata.h"

namespace burstsieve::pipeline {
namespace {

// Files whose metadata are stored in one transaction: few enough to lose little in a kill, enough to be
// quick.
constexpr std::size_t kBatch = 2000;

}  // namespace

Metadata read_metadata(const std::vector<FileRef>& files, Catalog& catalog, const Limits& limits) {
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
    std::vector<std::optional<Error>> failed(unknown.size());
    tbb::parallel_for(std::size_t{0}, unknown.size(), [&](std::size_t k) {
      auto capture = decode::read_capture(files[unknown[k]], limits);
      if (capture)
        out.taken[unknown[k]].capture = std::move(*capture);
      else
        failed[k] = capture.error();
    });
    std::vector<FileCapture> fresh;
    for (std::size_t k = 0; k < unknown.size(); ++k) {
      if (failed[k])
        out.errors.push_back(std::move(*failed[k]));
      else
        fresh.push_back({files[unknown[k]], out.taken[unknown[k]].capture});
    }
    if (fresh.empty()) continue;
    if (const auto stored = catalog.store_captures(fresh); !stored) out.errors.push_back(stored.error());
  }
  return out;
}

}  // namespace burstsieve::pipeline
