// From ledgers to the morning summary, and onto the disk.
#pragma once
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/report/summary.h"
#include "burstsieve/watch/ledger.h"

namespace burstsieve::watch {

struct SummaryLimits {
  std::size_t keepers = 24;                 // 0..1000: frames shown
  std::size_t thumbnail_bytes = 1'500'000;  // in all, before they are written as text
};

// One folder's part, from its lines: those after `told` are news, those before say what is news.
struct FolderNews {
  report::SummaryFolder counts;
  std::vector<report::SummaryKeeper> keepers;  // all, best of each burst first, then the second best, ...
  std::vector<report::SummaryFailure> failures;
  std::vector<report::BurstLight> light;  // of the bursts that are news
  std::int64_t last = 0;                  // number of the last line
  bool nothing() const;
};
FolderNews news_of(const std::vector<LedgerLine>& lines, std::int64_t told);

// Joins the folders' news and fetches thumbnails from the catalogue (which may be nullptr).
report::MorningSummary joined(std::vector<FolderNews> news, const SummaryLimits& limits, Catalog* catalog);

// Writes DATE.txt, DATE.json and DATE.html into `folder`, durably; DATE-2.* and so on when there is one
// already. The path without the suffix. Whoever reads the .json finds the others beside it: it is written
// last.
Result<std::string> write_summary(const report::MorningSummary& summary, const std::string& folder,
                                  FileSystem& fs);

}  // namespace burstsieve::watch
