// The printable contact sheet, page by page through Cairo and Pango; their types stay in the .cpp.
#pragma once
#include <functional>
#include <memory>

#include "sheet_parts.h"

namespace burstsieve::report {

// Takes the file as it grows.
using SheetSink = std::function<Status(Bytes)>;

class SheetPdf {
 public:
  SheetPdf(const SheetOptions& options, SheetSink sink);
  SheetPdf(const SheetPdf&) = delete;
  SheetPdf& operator=(const SheetPdf&) = delete;
  ~SheetPdf();

  void add(const SheetBurst& burst);
  // The first error of the sink, or of drawing.
  Status finish();
  std::size_t pages() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace burstsieve::report
