#include "burstsieve/pipeline/review.h"

#include <algorithm>
#include <string>
#include <utility>

#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/cull.h"
#include "commit.h"

namespace burstsieve::pipeline {
namespace {

bool was_written(const FrameOutcome& f) {
  return std::any_of(f.sidecars.begin(), f.sidecars.end(), [](const SidecarLine& line) {
    return line.change == "created" || line.change == "updated" || line.change == "unchanged";
  });
}

// Something to learn from, as a rating that another program wrote would be.
Status remember(Catalog& catalog, const std::string& profile, const FrameOutcome& f, const GivenWord& given,
                std::int64_t now_ms) {
  if (given.rating == f.verdict.rating || !was_written(f)) return Done{};
  Override entry{f.frame.main().path, f.verdict.rating, std::nullopt, {}, now_ms};
  if (given.rating) {
    entry.human = *given.rating;
    entry.human_text = std::to_string(*given.rating);
  }
  return catalog.record_override(entry, profile);
}

RunCounts counted(const std::vector<BurstOutcome>& bursts) {
  RunCounts c;
  c.bursts = static_cast<std::int64_t>(bursts.size());
  for (const BurstOutcome& b : bursts)
    for (const FrameOutcome& f : b.frames) {
      ++c.frames;
      c.keeps += f.verdict.verdict == Verdict::keep;
      c.rejects += f.verdict.verdict == Verdict::reject;
      c.undecided += f.verdict.verdict == Verdict::undecided;
      c.damaged += !f.facts.damage.empty();
    }
  return c;
}

std::string places_text(const CullOptions& options) {
  std::string out;
  for (const std::string& p : options.places) out += (out.empty() ? "" : ", ") + p;
  return out;
}

}  // namespace

Result<RunSummary> write_reviewed(const CullOptions& given_options, std::vector<BurstOutcome>& bursts,
                                  const WordOf& word_of, Catalog& catalog, FileSystem& fs, Clock& clock,
                                  Listener& listener) {
  CullOptions options = given_options;
  options.dry_run = false;
  Run run;
  run.started_ms = clock.now_ms();
  run.folder = places_text(options);
  run.options = "review";
  run.version = kVersion;
  run.counts = counted(bursts);
  const auto number = catalog.record_run(run);
  if (!number) return number.error();
  RunSummary summary;
  summary.bursts = bursts.size();
  SidecarDesk desk(options, fs, catalog, clock, listener, summary, *number);
  for (BurstOutcome& b : bursts) {
    std::vector<std::pair<const FrameOutcome*, GivenWord>> said;
    for (FrameOutcome& f : b.frames) {
      f.sidecars.clear();
      const auto word = word_of(f);
      if (!word) continue;
      ++summary.frames;
      desk.write(f, *word);
      if (word->given) said.emplace_back(&f, *word->given);
    }
    desk.flush();
    for (const auto& [frame, word] : said)
      if (const auto s = remember(catalog, options.profile, *frame, word, clock.now_ms()); !s) {
        ++summary.errors;
        listener.error(s.error());
      }
    listener.burst(b);
  }
  if (const auto s = catalog.finish_run(*number, clock.now_ms(), run.counts); !s) return s.error();
  return summary;
}

}  // namespace burstsieve::pipeline
