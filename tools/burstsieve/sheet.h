// The contact sheet's command.
#pragma once
#include <string>

#include "burstsieve/report/sheet.h"
#include "settings.h"

namespace burstsieve::tool {

struct SheetSettings {
  report::SheetOptions options;
  std::string out;  // empty: NAME-sheet in the current folder
  bool no_crops = false;
};
void add_sheet_options(CLI::App& app, SheetSettings& sheet);
int run_sheet(Settings& settings, SheetSettings& sheet);

}  // namespace burstsieve::tool
