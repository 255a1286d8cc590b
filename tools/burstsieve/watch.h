// The commands that go on by themselves.
#pragma once
#include <string>

#include "settings.h"
#include "watching.h"

namespace burstsieve::tool {

struct NightlySettings {
  bool once = false, install = false, uninstall = false, enable = false;
  std::string at = "21:30";
  double wait_s = 600;
  std::string summary;  // folder; empty: the state folder's
  std::string units;    // folder; empty: the user's
};

int run_watch(Settings& settings, const WatchSettings& watch);
// `given`: every option of the command line and the configuration that the unit is to be run with.
int run_nightly(Settings& settings, const WatchSettings& watch, const NightlySettings& nightly,
                const std::vector<std::string>& given);

}  // namespace burstsieve::tool
