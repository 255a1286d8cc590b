// The options that more than one command shares, and where they come from.
#pragma once
#include <CLI/CLI.hpp>
#include <string>

#include "burstsieve/pipeline/cull.h"
#include "burstsieve/pipeline/set_aside.h"
#include "burstsieve/pipeline/undo.h"
#include "burstsieve/subject/detector.h"

namespace burstsieve::tool {

// What the process returns. Listed in --help; scripts rely on them.
enum ExitCode {
  kDone = 0,        // everything done
  kSomeFailed = 1,  // done, but some files could not be read or written; each has its line
  kUsage = 2,       // the command line or configuration is wrong
  kCannotRun = 3,   // the run as a whole could not be done
  kStopped = 4,     // stopped by the user; a later run goes on from there
};

struct Settings {
  Settings() {
    cull.engine.program = "/proc/self/exe";  // this very program
    cull.engine.detector = subject::detector_file();
  }
  pipeline::CullOptions cull;
  std::string catalog;  // empty: the default place
  bool json = false;
  bool quiet = false;
};

// $XDG_CONFIG_HOME/burstsieve/config.toml or ~/.config/burstsieve/config.toml; empty when neither variable
// helps.
std::string default_config_path();

void add_catalog_option(CLI::App& app, Settings& settings);
void add_cull_options(CLI::App& app, Settings& settings);
void add_profile_option(CLI::App& app, Settings& settings);
// The same for commands that look as `cull --dry-run` does.
void add_look_options(CLI::App& app, Settings& settings);

// The one --catalog names, or the default one.
Result<Catalog> open_catalog(const Settings& settings);

// Prints `error` on stderr and gives kCannotRun.
int cannot_run(const Error& error);

int run_cull(Settings& settings);
int run_explain(const Settings& settings, const std::string& file);
int run_undo(const Settings& settings, const pipeline::UndoOptions& options);
int run_set_aside(const Settings& settings, const pipeline::SetAsideOptions& options, bool back);
int run_history(const Settings& settings);
int run_debrief(Settings& settings, const std::string& page);

}  // namespace burstsieve::tool
