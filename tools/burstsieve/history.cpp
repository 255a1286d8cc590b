#include <fmt/format.h>

#include <cstdio>
#include <ctime>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "output.h"
#include "settings.h"

namespace burstsieve::tool {
namespace {

// "2026-11-25 10:15:02"
std::string utc(std::int64_t ms) {
  const std::time_t seconds = static_cast<std::time_t>(ms / 1000);
  std::tm parts{};
  char text[32];
  if (!gmtime_r(&seconds, &parts) || std::strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S", &parts) == 0)
    return "unknown";
  return text;
}

bool dry(const Run& r) {
  return r.options == "dry run";
}

// "cull", "set aside" or "set aside, back"
std::string kind(const Run& r) {
  return r.options.starts_with("set aside") ? r.options : "cull";
}

// What stands of the run's changes, in a word.
const char* undone_word(const RunHistory& h) {
  if (h.changed == 0) return "-";
  if (h.undone == 0) return "no";
  return h.undone == h.changed ? "yes" : "in part";
}

std::string remarks(const RunHistory& h) {
  std::string out;
  if (dry(h.run)) out += "  (dry run)";
  if (kind(h.run) != "cull") out += "  (" + kind(h.run) + ")";
  if (h.run.ended_ms == 0) out += "  (did not end)";
  if (h.forgotten) out += "  (too old to be undone)";
  if (h.planned > 0) out += fmt::format("  ({} may have changed when it was killed)", h.planned);
  return out;
}

void print_table(const std::vector<RunHistory>& runs) {
  if (runs.empty()) {
    say("No runs yet\n");
    return;
  }
  say("{:>5}  {:<19}  {:>7}  {:>7}  {:>7}  {:>9}  {:>8}  {:<7}  {}\n", "run", "started (UTC)", "frames",
      "keep", "reject", "undecided", "sidecars", "undone", "folder");
  for (const RunHistory& h : runs) {
    const RunCounts& c = h.run.counts;
    say("{:>5}  {:<19}  {:>7}  {:>7}  {:>7}  {:>9}  {:>8}  {:<7}  {}{}\n", h.run.id, utc(h.run.started_ms),
        c.frames, c.keeps, c.rejects, c.undecided, h.changed, undone_word(h), one_line(h.run.folder),
        remarks(h));
  }
}

// One object per line, oldest first.
void print_json(const std::vector<RunHistory>& runs) {
  for (const RunHistory& h : runs) {
    const RunCounts& c = h.run.counts;
    const nlohmann::ordered_json line{{"type", "run"},
                                      {"run", h.run.id},
                                      {"kind", kind(h.run)},
                                      {"started_ms", h.run.started_ms},
                                      {"ended", h.run.ended_ms != 0},
                                      {"folder", one_line(h.run.folder)},
                                      {"version", h.run.version},
                                      {"dry_run", dry(h.run)},
                                      {"frames", c.frames},
                                      {"keep", c.keeps},
                                      {"reject", c.rejects},
                                      {"undecided", c.undecided},
                                      {"sidecars_changed", h.changed},
                                      {"sidecars_undone", h.undone},
                                      {"sidecars_uncertain", h.planned},
                                      {"can_be_undone", !h.forgotten}};
    say("{}\n", line.dump());
  }
}

}  // namespace

int run_history(const Settings& settings) {
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  const auto runs = catalog->history();
  if (const auto notes = catalog->take_notes(); !notes.empty())
    return cannot_run({Cause::corrupt, {}, notes.front()});
  settings.json ? print_json(runs) : print_table(runs);
  if (lost_output()) return kCannotRun;
  return kDone;
}

}  // namespace burstsieve::tool
