// The morning summary: what came in since the last one and what became of it. Texts in it are as they are;
// the functions make them safe for where they go.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/report/light.h"

namespace burstsieve::report {

struct SummaryFolder {
  std::string folder;
  std::string since;       // local time of the last summary; empty: this is the first
  std::size_t frames = 0;  // told for the first time; keep + reject + undecided
  std::size_t files = 0;   // of these frames
  std::size_t bursts = 0;  // that they belong to
  std::size_t keep = 0, reject = 0, undecided = 0;
  std::size_t revised = 0;  // frames told in an earlier summary that have another verdict now
  std::size_t gone = 0;     // frames told in an earlier summary that are no longer there
};

struct SummaryKeeper {
  std::string path, burst, why;
  std::optional<int> rating;            // 1..5
  std::vector<std::uint8_t> thumbnail;  // JPEG; empty: none
};

struct SummaryFailure {
  std::string file, reason;
};

struct MorningSummary {
  std::string date;     // "2026-11-25", local
  std::string written;  // "2026-11-25 21:34", local
  std::vector<SummaryFolder> folders;
  std::vector<SummaryKeeper> keepers;  // the best of each burst first; not necessarily all
  std::size_t more_keepers = 0;        // not in `keepers`
  std::vector<SummaryFailure> failures;
  std::vector<std::string> waiting;  // files that were still changing
  std::vector<LightDrift> light;     // of every camera with at least two bursts of white birds
  SummaryFolder total() const;
};

std::string summary_page(const MorningSummary& summary);  // HTML, nothing outside itself, no script
std::string morning_text(const MorningSummary& summary);
std::string morning_json(const MorningSummary& summary);  // one object, without pictures; ends with a newline

}  // namespace burstsieve::report
