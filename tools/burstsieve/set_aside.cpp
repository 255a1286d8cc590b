#include "burstsieve/pipeline/set_aside.h"

#include <fmt/format.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/report/json.h"
#include "interrupt.h"
#include "output.h"
#include "settings.h"

namespace burstsieve::tool {
namespace {

using Json = nlohmann::ordered_json;

std::string counted(std::size_t n, const char* what) {
  return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
}

std::string megabytes(std::uint64_t bytes) {
  return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
}

class AsideTerminal final : public pipeline::SetAsideListener {
 public:
  AsideTerminal(const Settings& settings, bool back, bool dry_run)
      : settings_(settings), back_(back), dry_run_(dry_run) {}

  void folders(const std::vector<std::string>& places, bool from_catalogue) override {
    if (!from_catalogue) return;
    for (const std::string& place : places) {
      if (settings_.json)
        print({{"type", "folder"}, {"path", one_line(place)}});
      else
        say("From the last culling run: {}\n", one_line(place));
    }
  }

  void frame(const pipeline::AsideFrame& frame) override {
    if (settings_.json) {
      Json files = Json::array();
      for (const pipeline::AsideFile& f : frame.files)
        files.push_back({{"from", one_line(f.from)},
                         {"to", one_line(f.to)},
                         {"bytes", f.size},
                         {"kind", f.sidecar ? "sidecar" : "photograph"}});
      print({{"type", back_ ? "back" : "aside"},
             {"frame", one_line(frame.name)},
             {"rejected_by", frame.by},
             {"dry_run", dry_run_},
             {"files", std::move(files)}});
      return;
    }
    if (settings_.quiet) return;
    std::size_t sidecars = 0;
    for (const pipeline::AsideFile& f : frame.files) sidecars += f.sidecar;
    say("{} {} ({}, {}{})\n", verb(), one_line(frame.name),
        counted(frame.files.size() - sidecars, "photograph"), counted(sidecars, "sidecar"),
        back_                  ? ""
        : frame.by == "person" ? "; rejected by you"
                               : "; rejected by burstsieve");
  }

  void note(const std::string& path, const std::string& text) override {
    if (settings_.json)
      print({{"type", "note"}, {"path", one_line(path)}, {"text", one_line(text)}});
    else if (!settings_.quiet)
      say("{}: {}\n", one_line(path), one_line(text));
  }

  void error(const Error& error) override {
    if (settings_.json) say("{}\n", report::error_json(error));
    complain("burstsieve: {}\n", error.line());
  }

  void summary(const pipeline::SetAsideSummary& s, const std::string& dir) const {
    if (settings_.json) {
      print({{"type", "summary"},
             {"dry_run", s.dry_run},
             {"frames", s.frames},
             {"files", s.files},
             {"bytes", s.bytes},
             {"seen", s.seen},
             {"yours", s.theirs},
             {"spared", s.spared},
             {"refused", s.refused},
             {"changed", s.changed},
             {"gone", s.gone},
             {"finished", s.finished},
             {"errors", s.errors},
             {"stopped", s.stopped}});
      return;
    }
    say("{} {} frames ({} files, {}) {} {}\n", verb(), s.frames, s.files, megabytes(s.bytes),
        back_ ? "from" : "in", one_line(dir));
    if (s.finished) say("{} frames that a stopped run had left half moved were put in order\n", s.finished);
    if (s.theirs) say("{} frames stay because of your own rating\n", s.theirs);
    if (s.spared) say("{} rejected frames stay as the last of their burst\n", s.spared);
    if (s.refused) say("{} frames could not be moved and are where they were\n", s.refused);
    if (s.changed) say("{} files were changed while they were set aside\n", s.changed);
    if (s.gone) say("{} files are gone from there\n", s.gone);
    if (!s.dry_run && s.frames && !back_)
      say("The way back: burstsieve set-aside --back {}\n", one_line(dir));
  }

 private:
  const char* verb() const {
    return back_ ? dry_run_ ? "Would put back" : "Put back" : dry_run_ ? "Would set aside" : "Set aside";
  }
  void print(const Json& line) const { say("{}\n", line.dump()); }

  const Settings& settings_;
  bool back_, dry_run_;
};

// Recorded where the catalogue allows; the way back must not depend on it.
class BackRun {
 public:
  BackRun(const Settings& settings, const std::string& dir, bool dry_run, Clock& clock) : clock_(clock) {
    if (dry_run) return;
    auto opened = open_catalog(settings);
    if (!opened) return;
    catalog_.emplace(std::move(*opened));
    Run run;
    run.started_ms = clock.now_ms();
    run.folder = dir;
    run.options = "set aside, back";
    run.version = kVersion;
    if (const auto id = catalog_->record_run(run)) id_ = *id;
  }
  std::int64_t id() const { return id_; }
  void ended(const pipeline::SetAsideSummary& s) {
    if (id_ == 0) return;
    RunCounts counts;
    counts.frames = static_cast<std::int64_t>(s.frames);
    static_cast<void>(catalog_->finish_run(id_, clock_.now_ms(), counts));
  }

 private:
  Clock& clock_;
  std::optional<Catalog> catalog_;
  std::int64_t id_ = 0;
};

Result<pipeline::SetAsideSummary> done(const Settings& settings, const pipeline::SetAsideOptions& options,
                                       bool back, const std::atomic<bool>& stop, AsideTerminal& terminal) {
  RealFileSystem fs;
  SystemClock clock;
  if (back) {
    std::string dir = options.dir;
    while (dir.size() > 1 && dir.back() == '/') dir.pop_back();
    BackRun run(settings, dir, options.dry_run, clock);
    auto summary = pipeline::set_back(dir, options.dry_run, run.id(), fs, clock, terminal, &stop);
    if (summary) run.ended(*summary);
    return summary;
  }
  auto catalog = open_catalog(settings);
  if (!catalog) return catalog.error();
  return pipeline::set_aside(options, *catalog, fs, clock, terminal, &stop);
}

}  // namespace

int run_set_aside(const Settings& settings, const pipeline::SetAsideOptions& options, bool back) {
  if (const Status s = options.bursts.check(); !s) {
    cannot_run(s.error());
    return kUsage;
  }
  const std::atomic<bool>& stop = stop_on_interrupt();
  AsideTerminal terminal(settings, back, options.dry_run);
  const auto summary = done(settings, options, back, stop, terminal);
  if (!summary) return cannot_run(summary.error());
  terminal.summary(*summary, options.dir);
  if (lost_output()) return kCannotRun;
  if (summary->stopped) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  return summary->errors || summary->gone ? kSomeFailed : kDone;
}

}  // namespace burstsieve::tool
