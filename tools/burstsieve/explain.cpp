#include <fmt/format.h>

#include "burstsieve/decode/metadata.h"
#include "burstsieve/pipeline/frame_work.h"
#include "burstsieve/pipeline/scan.h"
#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
#include "settings.h"

namespace burstsieve::tool {
namespace {

// A frame nobody culled yet: measured by itself, without its burst, and judged as its only frame.
void measure_alone(FrameOutcome& outcome) {
  const Limits limits;
  auto work = pipeline::FrameWork::decoded(outcome.frame, limits);
  pipeline::Trail trail;
  work->follow(trail);
  outcome.facts = work->measured(outcome.frame);
  pipeline::measure_highlights(outcome.frame, outcome.facts, limits);
  const auto name = leaf_of(outcome.frame.main().path);
  outcome.verdict =
      rank::judge({{name, &outcome.facts, outcome.facts.pose.tile.empty() ? 0 : 1}}, {}).front();
  outcome.facts.notes.push_back("not culled yet: measured alone, without the other frames of its burst");
}

}  // namespace

int run_explain(const Settings& settings, const std::string& file) {
  auto found = pipeline::scan({file}, {});
  if (!found) return cannot_run(found.error());
  if (!found->errors.empty()) return cannot_run(found->errors.front());
  if (found->files.size() != 1) return cannot_run({Cause::unsupported, file, "not one photograph"});
  FrameOutcome outcome;
  FileRef& ref = found->files.front();
  auto capture = decode::read_capture(ref, {});
  if (capture) outcome.frame.capture = std::move(*capture);
  (ref.kind == FileKind::raw ? outcome.frame.raw : outcome.frame.jpeg) = std::move(ref);

  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  auto known = catalog->explain(file);
  if (known && known->facts && known->verdict) {
    outcome.facts = std::move(*known->facts);
    outcome.verdict = std::move(*known->verdict);
  } else {
    measure_alone(outcome);
  }
  fmt::print("{}{}", settings.json ? report::frame_json(outcome) : report::explanation(outcome),
             settings.json ? "\n" : "");
  return kDone;
}

}  // namespace burstsieve::tool
