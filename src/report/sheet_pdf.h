// The printable contact sheet: how bursts are laid out on paper.
#pragma once
#include <memory>

#include "paper_canvas.h"
#include "sheet_parts.h"

namespace burstsieve::report {

class SheetPdf {
 public:
  SheetPdf(const SheetOptions& options, PaperSink sink);
  SheetPdf(const SheetPdf&) = delete;
  SheetPdf& operator=(const SheetPdf&) = delete;
  ~SheetPdf();

  void add(const SheetBurst& burst);
  Status finish();
  std::size_t pages() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace burstsieve::report
