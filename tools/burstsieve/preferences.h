// burstsieve preferences.
#pragma once
#include <CLI/CLI.hpp>
#include <string>

#include "settings.h"

namespace burstsieve::tool {

struct PreferenceSettings {
  std::string action = "show";
  std::string file;  // of export and import
};

CLI::App* add_preferences(CLI::App& app, Settings& settings, PreferenceSettings& preferences);
int run_preferences(const Settings& settings, const PreferenceSettings& preferences);

}  // namespace burstsieve::tool
