// Promise: what the raw decoder reads from a header completes a Capture and never spoils one.
#include "burstsieve/decode/raw_header.h"

#include "support/capture_promises.h"
#include "support/memory_file.h"
#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::MemoryFile file(Bytes(data, size));
  Capture empty;
  decode::fill_from_raw_header(file.path(), empty);
  fuzz::require_sound(empty);

  Capture full;
  full.make = "Saltmarsh";
  full.model = "Saltmarsh One";
  full.lens = "a lens";
  full.serial = "1";
  full.time_ms = 1'000'000;
  full.iso = full.exposure_s = full.f_number = full.focal_mm = 1;
  full.width = 600;
  full.height = 400;
  Capture after = full;
  decode::fill_from_raw_header(file.path(), after);
  after.notes.clear();
  fuzz::require(after == full, "what is known already stays");
  fuzz::came_out(empty.width > 0 ? "size known" : empty.notes.empty() ? "opened" : "not readable");
  return 0;
}
