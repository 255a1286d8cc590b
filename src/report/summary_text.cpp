#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/report/summary.h"
#include "light_json.h"
#include "words.h"

namespace burstsieve::report {
namespace {

using Json = nlohmann::ordered_json;

std::string folder_text(const SummaryFolder& f) {
  std::string out = fmt::format("{}\n  since      {}\n", one_line(f.folder),
                                f.since.empty() ? "the beginning" : one_line(f.since));
  out += fmt::format("  arrived    {} in {} ({})\n", counted(f.frames, "frame", "frames"),
                     counted(f.bursts, "burst", "bursts"), counted(f.files, "file", "files"));
  out += fmt::format("  keep       {}\n  reject     {}\n  undecided  {}\n", f.keep, f.reject, f.undecided);
  if (f.revised) out += fmt::format("  revised    {} told before, another verdict now\n", f.revised);
  if (f.gone) out += fmt::format("  gone       {} told before, no longer there\n", f.gone);
  return out;
}

Json folder_json(const SummaryFolder& f) {
  return {{"folder", one_line(f.folder)}, {"since", one_line(f.since)},
          {"frames", f.frames},           {"files", f.files},
          {"bursts", f.bursts},           {"keep", f.keep},
          {"reject", f.reject},           {"undecided", f.undecided},
          {"revised", f.revised},         {"gone", f.gone}};
}

}  // namespace

SummaryFolder MorningSummary::total() const {
  SummaryFolder t;
  for (const SummaryFolder& f : folders) {
    t.frames += f.frames;
    t.files += f.files;
    t.bursts += f.bursts;
    t.keep += f.keep;
    t.reject += f.reject;
    t.undecided += f.undecided;
    t.revised += f.revised;
    t.gone += f.gone;
  }
  return t;
}

std::string morning_text(const MorningSummary& s) {
  std::string out = fmt::format("Summary of {}, written {}\n\n", one_line(s.date), one_line(s.written));
  for (const SummaryFolder& f : s.folders) out += folder_text(f) + "\n";
  if (!s.keepers.empty()) {
    out += "Best frames\n";
    for (const SummaryKeeper& k : s.keepers)
      out += fmt::format("  {}  {}  {}\n", k.rating ? std::to_string(*k.rating) : "-",
                         one_line(leaf_of(k.path)), one_line(k.why));
    if (s.more_keepers) out += fmt::format("  and {} more\n", s.more_keepers);
    out += "\n";
  }
  for (const LightDrift& d : s.light) out += "Light: " + drift_text(d) + "\n";
  if (!s.light.empty()) out += "\n";
  if (!s.failures.empty()) {
    out += fmt::format("Failed ({})\n", s.failures.size());
    for (const SummaryFailure& f : s.failures)
      out += fmt::format("  {}: {}\n", one_line(f.file), one_line(f.reason));
    out += "\n";
  }
  if (!s.waiting.empty()) {
    out += fmt::format("Still changing, left for the next time ({})\n", s.waiting.size());
    for (const std::string& w : s.waiting) out += "  " + one_line(w) + "\n";
    out += "\n";
  }
  return out;
}

std::string morning_json(const MorningSummary& s) {
  Json out{{"type", "morning_summary"},
           {"version", kVersion},
           {"date", s.date},
           {"written", s.written},
           {"total", folder_json(s.total())}};
  out["total"].erase("folder");
  out["total"].erase("since");
  out["folders"] = Json::array();
  for (const SummaryFolder& f : s.folders) out["folders"].push_back(folder_json(f));
  out["keepers"] = Json::array();
  for (const SummaryKeeper& k : s.keepers) {
    Json one{{"path", one_line(k.path)}, {"burst", one_line(k.burst)}};
    if (k.rating) one["rating"] = *k.rating;
    one["why"] = one_line(k.why);
    out["keepers"].push_back(one);
  }
  out["more_keepers"] = s.more_keepers;
  out["failures"] = Json::array();
  for (const SummaryFailure& f : s.failures)
    out["failures"].push_back({{"file", one_line(f.file)}, {"reason", one_line(f.reason)}});
  if (!s.light.empty()) out["light"] = drifts_json(s.light);
  out["waiting"] = Json::array();
  for (const std::string& w : s.waiting) out["waiting"].push_back(one_line(w));
  return out.dump(1) + "\n";
}

}  // namespace burstsieve::report
