// burstsieve: the command line.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <exception>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/version.h"
#include "output.h"
#include "preferences.h"
#include "review.h"
#include "settings.h"
#include "sheet.h"
#include "watch.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::tool;

constexpr const char* kFooter = R"(
Exit codes: 0 done; 1 done, but some files could not be read or written (each has its line on stderr);
2 wrong command line or configuration; 3 the run could not be done; 4 stopped, run it again to go on.

Originals are opened for reading only; set-aside, and nothing else, moves them. Nothing is ever deleted but
burstsieve's own temporary files, by undo a sidecar that burstsieve itself created and nobody changed, and by
set-aside to another disk a file whose copy there was read back and compared. Keep the card until you have
checked the copy.)";

constexpr const char* kCullFooter = R"(
Example: cull a copied card, look first, then write the sidecars
  burstsieve cull --dry-run ~/pictures/2026-11-25
  burstsieve cull ~/pictures/2026-11-25

Every option can stand in the configuration file, in a section [cull]:
  [cull]
  threads = 4
  sidecar-naming = "plain")";

constexpr const char* kExplainFooter = R"(
Example: why was this frame rejected?
  burstsieve explain ~/pictures/2026-11-25/BSG_0042.JPG)";

constexpr const char* kUndoFooter = R"(
A sidecar that you, another program or a later run changed since is left alone and named; the exit code is then 1.

Example: look what the last run changed, then take it back; or an earlier run, by its number in the history
  burstsieve undo --dry-run
  burstsieve undo
  burstsieve undo 12)";

constexpr const char* kSetAsideFooter = R"(
A frame goes when its sidecars say reject at this moment; a rating of yours keeps it. Raw, JPEG, sidecars and
copies go together. Nothing is overwritten; DIR/set-aside.jsonl records every file with its checksum. An
interrupted run is put in order by the next one. DIR must lie outside the culled folders.

Example: look first, then move the rejects of the last run out of the way; and all of them back again
  burstsieve set-aside --dry-run ~/pictures/aside
  burstsieve set-aside ~/pictures/aside
  burstsieve set-aside --back ~/pictures/aside)";

constexpr const char* kDebriefFooter = R"(
It measures as cull does, or remembers what cull measured, and changes nothing.

Example: what cost frames today, as text and as a page with plots
  burstsieve debrief ~/pictures/2026-11-25
  burstsieve debrief --page ~/today.html ~/pictures/2026-11-25)";

constexpr const char* kSheetFooter = R"(
It measures as cull does, or remembers what cull measured, and changes no sidecar. The sheet's folder must lie
outside the photographs' folders; an older sheet in it is replaced, anything else in it is left alone.

Example: a sheet of what is worth a look, for the browser and for A4 paper
  burstsieve sheet --only keep,undecided ~/pictures/2026-11-25)";

constexpr const char* kHistoryFooter = R"(
Example: which run wrote those sidecars?
  burstsieve history)";

constexpr const char* kWatchFooter = R"(
It never ends by itself: Ctrl-C or SIGTERM finishes the frames in flight. One watcher works on a folder, and none on
a folder inside or above a watched one.

Example: cull what the card reader copies, while the machine is not busy otherwise
  burstsieve watch --max-load 3 ~/pictures/incoming)";

constexpr const char* kReviewFooter = R"(
Measures what the catalogue doesn't know, as cull does, writes nothing, and opens a page in the browser. The page is
served to this machine only; its address holds a secret. What you decide there is kept in the catalogue at once and
goes into the sidecars, as your own rating, when you press Done; `burstsieve undo` takes that back. Ctrl-C ends it;
nothing decided is lost. Keep the usual distance from nests and roosts for the next series, and know the local rules.

Example: look through a copied card
  burstsieve review ~/pictures/2026-11-25)";

constexpr const char* kNightlyFooter = R"(
--once waits until the files have settled, culls every burst and writes DATE.txt, DATE.json and DATE.html: what came
in since the last summary, what is worth keeping, and what failed. Where `watch` is at work it writes the summary only.
--install freezes the options given, and those of the configuration file, in the unit it writes.

Example: by systemd every evening, or by cron
  burstsieve nightly --install --at 21:30 ~/pictures/incoming
  30 21 * * *  burstsieve nightly --once ~/pictures/incoming)";

// What a unit needs to run with the same options. Paths become absolute: a unit starts in another folder.
std::vector<std::string> options_given(const CLI::App& app) {
  static const std::vector<std::string> own{"--once", "--install", "--uninstall", "--enable",
                                            "--at",   "--units",   "--help"};
  static const std::vector<std::string> paths{"--catalog", "--sidecars", "--summary", "--detector"};
  const auto among = [](const std::vector<std::string>& all, const std::string& one) {
    return std::find(all.begin(), all.end(), one) != all.end();
  };
  std::vector<std::string> out;
  for (const CLI::Option* o : app.get_options()) {
    const std::string name = o->get_name();
    if (o->count() == 0 || !name.starts_with("--") || among(own, name)) continue;
    for (std::string value : o->results()) {
      if (among(paths, name) && !(name == "--detector" && value == "off"))
        value = std::filesystem::absolute(value).lexically_normal().string();
      if (o->get_expected_max() == 0) {
        if (value != "false") out.push_back(name);
      } else {
        out.push_back(name + "=" + value);
      }
    }
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) try {
  if (!open_standard_files()) return kCannotRun;
  if (argc == 2 && std::string_view(argv[1]) == pipeline::kEngineArgument) return pipeline::serve_engine();
  Settings settings;
  std::string file;
  pipeline::UndoOptions undo_options;
  WatchSettings watch_settings;
  NightlySettings nightly_settings;
  CLI::App app{
      "burstsieve finds the few frames worth keeping in high-frame-rate bursts of wild birds, and says why.",
      "burstsieve"};
  app.footer(kFooter);
  app.set_version_flag("--version", std::string("burstsieve ") + kVersion);
  app.set_config("--config", default_config_path(), "Configuration file (TOML)")->type_name("FILE");
  app.require_subcommand(1);
  app.fallthrough();                                        // --config may follow the command
  app.allow_config_extras(CLI::config_extras_mode::error);  // a misspelt option must not be passed over

  CLI::App* cull = app.add_subcommand("cull", "Measure folders of bursts and write keep/reject sidecars");
  cull->add_option("FOLDER", settings.cull.places, "Folders (with all below them) or single files")
      ->required()
      ->type_name("");
  add_cull_options(*cull, settings);
  cull->footer(kCullFooter);

  CLI::App* explain =
      app.add_subcommand("explain", "Show every number and reason behind one frame's verdict");
  explain->add_option("FILE", file, "A raw or JPEG file")->required()->type_name("");
  add_catalog_option(*explain, settings);
  explain->add_flag("--json", settings.json, "Print one JSON object");
  explain->footer(kExplainFooter);

  CLI::App* undo = app.add_subcommand("undo", "Put the sidecars back as they were before a run");
  undo->add_option("RUN", undo_options.run, "Number of the run (default: the last that changed a sidecar)")
      ->type_name("");
  undo->add_flag("--dry-run", undo_options.dry_run, "Only say what would happen");
  add_catalog_option(*undo, settings);
  undo->footer(kUndoFooter);

  pipeline::SetAsideOptions aside;
  bool back = false;
  CLI::App* set_aside =
      app.add_subcommand("set-aside", "Move rejected frames with their sidecars to a folder, or back");
  set_aside->add_option("DIR", aside.dir, "Where they go")->required()->type_name("");
  CLI::Option* folders = set_aside
                             ->add_option("FOLDER", aside.places,
                                          "Culled folders or files (default: those of the last culling run)")
                             ->type_name("");
  set_aside->add_flag("--back", back, "Put everything that is set aside in DIR back to where it was")
      ->excludes(folders);
  set_aside->add_flag("--dry-run", aside.dry_run, "Only say what would happen");
  set_aside->add_flag("--json", settings.json, "Print JSON Lines: one object per frame, then a summary");
  set_aside->add_flag("-q,--quiet", settings.quiet, "Print the summary only");
  set_aside->add_option("--sidecars", aside.sidecars, "The folder that cull --sidecars wrote to")
      ->type_name("DIR");
  set_aside->add_option("--gap", aside.bursts.gap_s, "As for cull")->capture_default_str();
  set_aside->add_option("--gap-factor", aside.bursts.gap_factor, "As for cull")->capture_default_str();
  add_catalog_option(*set_aside, settings);
  set_aside->footer(kSetAsideFooter);

  CLI::App* history =
      app.add_subcommand("history", "List the runs: what they decided, changed, and whether undone");
  add_catalog_option(*history, settings);
  history->add_flag("--json", settings.json, "Print JSON Lines: one object per run");
  history->footer(kHistoryFooter);

  PreferenceSettings preference_settings;
  CLI::App* preferences = add_preferences(app, settings, preference_settings);
  std::string debrief_page;
  CLI::App* debrief =
      app.add_subcommand("debrief", "What cost frames on an outing, by setting, and what to change");
  debrief->add_option("FOLDER", settings.cull.places, "Folders (with all below them) or single files")
      ->required()
      ->type_name("");
  add_look_options(*debrief, settings);
  debrief->add_option("--page", debrief_page, "Also write a page with plots (HTML with SVG)")
      ->type_name("FILE");
  debrief->footer(kDebriefFooter);

  SheetSettings sheet_settings;
  CLI::App* sheet = app.add_subcommand("sheet", "Write a contact sheet: pages for the browser, and a PDF");
  sheet->add_option("FOLDER", settings.cull.places, "Folders (with all below them) or single files")
      ->required()
      ->type_name("");
  add_look_options(*sheet, settings);
  add_sheet_options(*sheet, sheet_settings);
  sheet->footer(kSheetFooter);

  CLI::App* watch =
      app.add_subcommand("watch", "Cull what comes into folders, burst by burst as it is complete");
  watch->add_option("FOLDER", settings.cull.places, "Folders, with all below them")
      ->required()
      ->type_name("");
  add_cull_options(*watch, settings);
  add_watch_options(*watch, watch_settings);
  watch->footer(kWatchFooter);

  ReviewSettings review_settings;
  CLI::App* review =
      app.add_subcommand("review", "Look through bursts in the browser, decide, and write the sidecars");
  review->add_option("FOLDER", settings.cull.places, "Folders (with all below them)")
      ->required()
      ->type_name("");
  review->add_option("--port", review_settings.port, "Port on 127.0.0.1 (0: any free one)")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
  review->add_flag("--no-browser", review_settings.no_browser, "Only print the address");
  add_cull_options(*review, settings);
  review->footer(kReviewFooter);

  CLI::App* nightly = app.add_subcommand("nightly", "Cull once a day and write a summary of what came in");
  nightly->add_option("FOLDER", settings.cull.places, "Folders, with all below them")->type_name("");
  nightly->add_flag("--once", nightly_settings.once, "One run now, as from cron");
  nightly->add_flag("--install", nightly_settings.install, "Write a systemd user service and timer");
  nightly->add_flag("--uninstall", nightly_settings.uninstall,
                    "Remove them, if they are as --install wrote them");
  nightly->add_option("--at", nightly_settings.at, "Time of day for --install")
      ->capture_default_str()
      ->type_name("HH:MM");
  nightly->add_flag("--enable", nightly_settings.enable,
                    "With --install also switch the timer on by systemctl --user (with --uninstall: off)");
  nightly->add_option("--units", nightly_settings.units, "Folder of the units (default: the user's)")
      ->type_name("DIR");
  nightly
      ->add_option("--summary", nightly_settings.summary,
                   "Folder of the summaries (default: burstsieve/summaries in the XDG state folder)")
      ->type_name("DIR");
  nightly
      ->add_option("--wait", nightly_settings.wait_s,
                   "Wait up to this many seconds for files to settle and folders to be quiet")
      ->capture_default_str();
  add_cull_options(*nightly, settings);
  add_watch_options(*nightly, watch_settings);
  nightly->footer(kNightlyFooter);

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? kDone : kUsage;
  }
  if (!*explain && !*history) outlive_readers();
  if (*cull) return run_cull(settings);
  if (*undo) return run_undo(settings, undo_options);
  aside.engine = settings.cull.engine;
  aside.engine.detector.clear();  // it only asks what files are
  if (*set_aside) return run_set_aside(settings, aside, back);
  if (*history) return run_history(settings);
  if (*preferences) return run_preferences(settings, preference_settings);
  if (*review) return run_review(settings, review_settings);
  if (*debrief) return run_debrief(settings, debrief_page);
  if (*sheet) return run_sheet(settings, sheet_settings);
  if (*watch) return run_watch(settings, watch_settings);
  if (*nightly) return run_nightly(settings, watch_settings, nightly_settings, options_given(*nightly));
  return run_explain(settings, file);
} catch (const std::exception& e) {
  complain("burstsieve: internal error: {}\n", e.what());
  return 3;
}
