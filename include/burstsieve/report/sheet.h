// The contact sheet: every frame of a shoot with its verdict and reasons, the whole frame beside its head at
// 100 %.
//
// A folder of linked HTML pages with their pictures beside them, and a PDF for printing. Both are written
// burst by burst: memory does not grow with the shoot, but for a line per burst of the index. Pictures are
// named by number: no name of a photograph becomes a name of ours.
#pragma once
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/outcome.h"

namespace burstsieve::report {

enum class Paper { a4, letter };

struct SheetOptions {
  std::string title;          // of the shoot: a folder's name
  std::string written;        // "2026-11-25 21:34"; empty: not said
  std::vector<Verdict> only;  // empty: every frame
  bool pdf = true;
  Paper paper = Paper::a4;
  std::size_t frames_per_page = 500;  // of an HTML page; a burst stays together. >= 1
  bool shows(Verdict verdict) const;
};

// Width and height of a head crop, px of the full-size frame.
inline constexpr int kCropWidth = 320, kCropHeight = 240;

// The part of a frame worth seeing at 100 %: kCropWidth x kCropHeight px about the head, else the AF area in
// the subject, else the subject's most detailed part; moved inside the frame. Empty where the frame has no
// pixels.
struct CropPlace {
  Region region;
  std::string what;  // "head", "focus point", "detail", "middle"
};
CropPlace crop_place(const FrameOutcome& outcome);

struct SheetCrop {
  std::vector<std::uint8_t> jpeg;  // empty: there is none
  int width = 0, height = 0;       // px
};
// The crop of a frame, from whoever may open photographs; an empty one where it can't be had.
using CropMaker = std::function<std::vector<SheetCrop>(const std::vector<const FrameOutcome*>& frames,
                                                       const std::vector<CropPlace>& places)>;

// Writes a sheet into a folder: index.html, page-001.html, ..., pictures/, sheet.pdf.
class SheetFolder {
 public:
  // Cause::unsupported where something is in the folder that is not a sheet of ours. An older sheet is
  // replaced.
  static Result<std::unique_ptr<SheetFolder>> start(FileSystem& fs, const std::string& folder,
                                                    SheetOptions options);
  ~SheetFolder();

  // Bursts in order of time.
  Status add(const BurstOutcome& burst, const CropMaker& crops);
  // Writes the index, with a link to the debrief page given (empty: none), and closes the PDF.
  Status finish(const std::string& debrief_page);

  std::size_t frames() const;  // on the sheet
  std::size_t paper_pages() const;

 private:
  struct State;
  explicit SheetFolder(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace burstsieve::report
