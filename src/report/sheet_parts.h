// What the files of the contact sheet share.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/report/sheet.h"

namespace burstsieve::report {

// A frame with its pictures.
struct SheetCard {
  const FrameOutcome* frame = nullptr;
  CropPlace place;
  SheetCrop crop;
  int whole_width = 0, whole_height = 0;  // px of its thumbnail
  std::string whole_href, crop_href;      // empty: no such picture
};

// A burst as it stands on the sheet: pose by pose, the best first; frames without a pose last.
struct SheetBurst {
  const BurstOutcome* burst = nullptr;
  std::vector<SheetCard> cards;
};
SheetBurst sheet_burst(const BurstOutcome& burst, const SheetOptions& options);

// A line of the index.
struct SheetEntry {
  int number = 0;
  std::string time, camera, page, best_href, best_name;
  std::size_t shown = 0, keep = 0, undecided = 0, reject = 0;  // the verdicts of all its frames
};

// In words, for HTML and paper alike; not escaped.
std::string name_on_sheet(const FrameOutcome& frame);  // "BSG_0015.JPG", "BSG_0016.DNG with JPEG"
std::string place_on_sheet(const FrameOutcome& frame, const BurstOutcome& burst);  // "pose 2: best of 5"
std::string settings_on_sheet(const Capture& capture);  // "1/2500 s, f/5.6, ISO 800, 600 mm"
std::string crop_on_sheet(const SheetCard& card);       // "head at 100 %"
std::string time_on_sheet(const Capture& capture);      // "2026-04-12 13:20:09" by the camera's clock
std::vector<std::string> reasons_on_sheet(const FrameOutcome& frame);
std::string human_on_sheet(const FrameOutcome& frame);  // "your own rating stands: 4"; else empty

std::string sheet_page_top(const SheetOptions& options, const std::string& heading,
                           const std::string& navigation);
std::string sheet_page_end(const std::string& navigation);
std::string burst_on_page(const SheetBurst& burst);
std::string sheet_index(const SheetOptions& options, const std::vector<SheetEntry>& entries,
                        std::size_t pages, const std::string& debrief_page);

}  // namespace burstsieve::report
