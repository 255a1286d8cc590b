#include <fmt/format.h>

#include "burstsieve/base/text.h"
#include "burstsieve/group/pairs.h"
#include "burstsieve/pipeline/engine_process.h"
#include "burstsieve/pipeline/scan.h"
#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
#include "output.h"
#include "settings.h"

namespace burstsieve::tool {
namespace {

// A frame nobody culled yet: measured by itself, without its burst, and judged as its only frame.
Status measure_alone(pipeline::Engine& engine, FrameOutcome& outcome) {
  engine.submit({{outcome.frame}, {}, true});
  auto measured = engine.next({}, nullptr);
  if (!measured) return measured.error();
  outcome.facts = std::move((*measured)->frames.front());
  const auto name = leaf_of(outcome.frame.main().path);
  outcome.verdict =
      rank::judge({{name, &outcome.facts, outcome.facts.pose.tile.empty() ? 0 : 1}}, {}).front();
  outcome.facts.notes.push_back("not culled yet: measured alone, without the other frames of its burst");
  return Done{};
}

}  // namespace

namespace {

bool holds(const Frame& frame, const std::string& path) {
  return (frame.raw && frame.raw->path == path) || (frame.jpeg && frame.jpeg->path == path);
}

// The frame that the file belongs to: alone, or with its partner of the same name beside it.
Result<Frame> frame_of(pipeline::Engine& engine, const std::string& file) {
  auto named = pipeline::scan(engine, {file}, {});
  if (!named) return named.error();
  if (!named->errors.empty()) return named->errors.front();
  if (named->files.size() != 1) return Error{Cause::unsupported, file, "not one photograph"};
  const std::string path = named->files.front().path;
  std::vector<std::string> places{path};
  RealFileSystem fs;
  const auto stem = [](const std::string& name) { return lower_ascii(name.substr(0, name.rfind('.'))); };
  if (const auto names = fs.list(folder_of(path)))
    for (const std::string& name : *names)
      if (name != leaf_of(path) && stem(name) == stem(leaf_of(path)))
        places.push_back(folder_of(path) + "/" + name);
  auto found = pipeline::scan(engine, places, {});
  if (!found) return found.error();
  std::vector<group::TakenFile> taken;
  auto captures = engine.read_captures(found->files);
  for (std::size_t i = 0; i < captures.size(); ++i)
    taken.push_back({std::move(found->files[i]), captures[i] ? std::move(*captures[i]) : Capture{}});
  for (Frame& frame : group::pair_files(std::move(taken)))
    if (holds(frame, path)) return std::move(frame);
  Frame alone;  // a copy of its neighbour: the neighbour answers for both, but the user asked for this one
  (named->files.front().kind == FileKind::raw ? alone.raw : alone.jpeg) = named->files.front();
  return alone;
}

}  // namespace

int run_explain(const Settings& settings, const std::string& file) {
  pipeline::EngineOptions options = settings.cull.engine;
  options.detector.clear();  // it only reads metadata
  const auto engine = pipeline::make_engine(options, 1, {});
  if (!engine) return cannot_run(engine.error());
  auto frame = frame_of(**engine, file);
  if (!frame) return cannot_run(frame.error());
  FrameOutcome outcome;
  outcome.frame = std::move(*frame);
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  // Only of the very bytes that were culled: another picture under the same name has another fingerprint.
  const bool same_bytes = catalog->capture_of(outcome.frame.main()).has_value();
  auto known = catalog->explain(outcome.frame.main().path);
  if (same_bytes && known && known->facts && known->verdict) {
    outcome.facts = std::move(*known->facts);
    outcome.verdict = std::move(*known->verdict);
  } else {
    if (const Status s = measure_alone(**engine, outcome); !s) return cannot_run(s.error());
  }
  say("{}{}", settings.json ? report::frame_json(outcome) : report::explanation(outcome),
      settings.json ? "\n" : "");
  return lost_output() ? kCannotRun : kDone;
}

}  // namespace burstsieve::tool
